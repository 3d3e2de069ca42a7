"""The catalog in the reader's language: what somebody reads is translated while its files are read, codes stay."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache, partial
from gettext import GNUTranslations, NullTranslations, translation
from typing import Any

from django.conf import settings
from django.utils.translation import get_language, override, to_locale

from inventory.rules.notes import signed, unsigned

DOMAIN = "catalog"
# Fields of the files that hold words to read, at any depth.
READ = frozenset({
    "accept", "because", "between_players", "caution", "cost_of_harm", "daily", "fails", "freed_words", "lost", "limits",
    "look_for", "means", "monthly", "name", "never", "note", "passes", "play", "starts", "stop_if", "stuck_words", "test",
    "tips", "unit", "warn", "watch", "weekly", "wet_note", "why", "yearly", "light", "moderate", "severe",
})  # fmt: skip
NAME, ALIASES = "name", "aliases"


def reading_language() -> str:
    """Return the language in force if the catalog is translated into it, else ""."""
    language = get_language() or ""
    return language if isinstance(_words(language), GNUTranslations) else ""


@cache
def _words(language: str) -> NullTranslations:
    return translation(DOMAIN, str(settings.LOCALE_PATHS[0]), [to_locale(language)] if language else [], fallback=True)


def is_stored_language() -> bool:
    """Whether the reader reads the language that sentences are stored in."""
    return (get_language() or settings.LANGUAGE_CODE).partition("-")[0] == settings.LANGUAGE_CODE.partition("-")[0]


@contextmanager
def stored_language() -> Iterator[None]:
    """Speak the language that sentences are stored in, whoever acts or reads."""
    with override(settings.LANGUAGE_CODE):
        yield


def catalog_word(stored: str, section: str = "") -> str:
    """Return a word of the catalog that was stored, such as an accessory's name, in the reader's language."""
    return _say(_words(get_language() or ""), section, stored) if stored else ""


def choice_word(option: str, choice: str) -> str:
    """Return a choice, which rules compare as it is stored, as the reader says it of that option."""
    return catalog_word(choice, option)


def translate(sections: dict[str, Any], language: str) -> dict[str, Any]:
    """Return the sections with their words translated. An entry that has other names keeps its English one among them."""
    words = _words(language)
    return {section: _translated(entries, partial(_say, words, section)) for section, entries in sections.items()}


def _say(words: NullTranslations, section: str, text: str) -> str:
    """Return a word as its section says it ("pad" among consumables), or else as all do, notes in it with their signs."""
    typed = unsigned(text)
    own = words.pgettext(section, typed)
    return signed(words.gettext(typed) if own == typed else own)


def _translated(value: Any, say: Callable[[str], str], *, is_read: bool = False) -> Any:
    if isinstance(value, dict):
        found = {key: _translated(one, say, is_read=key in READ) for key, one in value.items()}
        if ALIASES in value and isinstance(value.get(NAME), str):
            found[ALIASES] = [*value[ALIASES], value[NAME].lower()]
        return found
    if isinstance(value, list):
        return [_translated(one, say, is_read=is_read) for one in value]
    return say(value) if is_read and isinstance(value, str) and value else value
