"""Which passwords are refused, each with a sentence that says why.

Length and a list of what is guessed first, no rule about kinds of characters: NIST SP 800-63B, section 5.1.1.2 (2017
with updates of 2020; the same in revision 4, 2025). It asks for 8 characters or more, of a length up to 64 at least,
any printable character and space, normalized by NFKC or NFKD, and for a comparison with values known to be common,
repetitive or sequential, or made of the service's name and the like. Twelve is ours.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator

from django.contrib.auth.password_validation import CommonPasswordValidator
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from core.hooks import Hook

LONGEST = 200  # of a form's field
FEWEST_DIFFERENT = 5
LEAST_LEFT = 8  # characters beside those that are easily guessed
SHORTEST_WORD = 4  # of a name; shorter ones are in every second word
SHORTEST_RUN = 3
ROWS = ("qwertyuiop", "asdfghjkl", "zxcvbnm")  # of a keyboard

place_names: Hook[[], Iterable[str]] = Hook()  # of the district and its schools


def normalized(password: str) -> str:
    """Return the password as it is hashed: the same however a keyboard composed an accented letter."""
    return unicodedata.normalize("NFKC", password)


def plain(text: str) -> str:
    """Return the text without what only separates: "letmein-letmein" is one piece twice."""
    return re.sub(r"[\W_]+", "", text) or text


def unit_of(text: str) -> str:
    """Return what the text repeats from its beginning to its end, "abc" of "abcabcabcab"; the text if nothing."""
    for length in range(1, len(text) // 2 + 1):
        if all(text[at] == text[at - length] for at in range(length, len(text))):
            return text[:length]
    return text


def follows(before: str, after: str) -> bool:
    """Whether one character follows the other: in the alphabet, in counting, on a keyboard; up, down, or the same."""
    if abs(ord(before) - ord(after)) <= 1:
        return True
    return any(before + after in row or after + before in row for row in ROWS)


def runs(text: str) -> Iterator[str]:
    """Yield the text in pieces, within each of which every character follows the one before."""
    start = 0
    for at in range(1, len(text) + 1):
        if at == len(text) or not follows(text[at - 1], text[at]):
            yield text[start:at]
            start = at


def left_of(text: str) -> int:
    """Return how many characters are left once a run counts as its first two."""
    return sum(2 if len(run) >= SHORTEST_RUN else len(run) for run in runs(text))


class RepetitionValidator:
    """Refuses few different characters, one piece over and over, and runs of the alphabet, digits or keyboard."""

    def validate(self, password: str, user: object = None) -> None:
        text = normalized(password).casefold()
        if len(set(text)) < FEWEST_DIFFERENT:
            raise ValidationError(_("This password repeats the same few characters. Use several words."))
        if len(unit_of(plain(text))) < LEAST_LEFT:
            raise ValidationError(_("This password repeats one piece over and over. Use several different words."))
        if left_of(text) < LEAST_LEFT:
            raise ValidationError(
                _("This password is mostly a run such as abcd, 1234 or qwerty. Use several words instead.")
            )

    def get_help_text(self) -> str:
        return _("No repeated pieces and no runs such as abcd or 1234.")


class CommonValidator(CommonPasswordValidator):
    """Refuses what is guessed first, also with digits and symbols around it, or twice."""

    def validate(self, password: str, user: object = None) -> None:
        text = normalized(password).casefold().strip()
        cores = {text, unit_of(plain(text)), re.sub(r"^[\W\d_]+|[\W\d_]+$", "", text)}
        if any(core in self.passwords for core in cores):
            raise ValidationError(_("Many people use this password, so it is guessed first. Use several words."))

    def get_help_text(self) -> str:
        return _("Not one that many people use.")


class PlaceValidator:
    """Refuses what little is left beside the names of the district, its schools and this program."""

    def validate(self, password: str, user: object = None) -> None:
        text = normalized(password).casefold()
        rest = text
        for word in sorted(self.words(), key=len, reverse=True):
            rest = rest.replace(word, "")
        if rest != text and left_of(rest) < LEAST_LEFT:
            raise ValidationError(
                _("This password is little more than the name of the district, a school or Hornbook. Add other words.")
            )

    def words(self) -> set[str]:
        names = ["Hornbook", *place_names()]
        whole = {plain(name.casefold()) for name in names}
        parts = {word for name in names for word in re.split(r"[\W_]+", name.casefold())}
        return {word for word in whole | parts if len(word) >= SHORTEST_WORD}

    def get_help_text(self) -> str:
        return _("Not the name of the district or a school.")
