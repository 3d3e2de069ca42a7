"""Kinds, levels, numbers and names as people write them."""

from __future__ import annotations

import re
from collections.abc import Callable, Container, Iterator
from typing import Final

from core.cells import Cell
from core.translation import gettext as _
from core.translation import gettext_noop
from inventory.rules.intake.parse.reading import Reading, UnreadableError, cell_text, is_nothing, reads_cells

FindKind = Callable[[str], str | None]  # somebody's word for a kind of instrument to the kind's code

_PARENTHESIS = re.compile(r"\s*[(\[][^)\]]*[)\]]\s*")
_NUMBERED = re.compile(
    r"[\s,;:–-]*(?:#|\b(?:no|nr|num|number|qty)\b\.?)\s*\d+\s*$"
    r"|[\s,;:–-]+(?:[a-z]?\d{1,3}|[1-7]/[248]|\d{1,2}(?:\.5)?\s*(?:\"|”|''|in\.?|inch(?:es)?))\s*$",
    re.IGNORECASE,
)
_COUNTED = re.compile(r"^#?\d+\s*(?:x|ea)?\s+|\s+x\s*\d+$", re.IGNORECASE)


@reads_cells(None)
def parse_kind(text: str, *, find_kind: FindKind) -> Reading[str | None]:
    """Read "TRUMPET #3" as the kind's code; the note tells what was left out. None if no kind is named."""
    for candidate in _candidates(text):
        code = find_kind(candidate)
        if code:
            left_out = text.casefold().replace(candidate.casefold(), "").strip(" -–,;:")
            is_shorter = len(candidate) < len(text) and candidate.casefold() in text.casefold()
            note = ""
            if is_shorter and any(map(str.isdigit, left_out)):
                note = _("“%(left_out)s” in “%(text)s” was left out", left_out=left_out, text=text)
            return Reading(code, note)
    return Reading(None)


def loose_word(text: str, *, find_kind: FindKind, loose: Container[str]) -> str:
    """Return the word in the text that may mean several kinds ("SAX #3" is "sax"); "" where it says more than that."""
    for candidate in _candidates(text):
        plain = " ".join(re.findall(r"[a-z]+", candidate.casefold()))
        if plain in loose:
            return plain
        if find_kind(candidate):
            break
    return ""


def _candidates(text: str) -> Iterator[str]:
    """Yield the text, then the text with less and less around the word for the kind."""
    seen: set[str] = set()
    bare = _PARENTHESIS.sub(" ", text).strip()
    plain = _COUNTED.sub("", _NUMBERED.sub("", bare)).strip(" .,-–;:")
    parts = re.split(r"\s*[,;/–]\s*|\s+-+\s+", plain)
    turned = " ".join([*parts[1:], parts[0]]) if len(parts) > 1 else ""
    backward = " ".join(reversed(parts))  # "Horn, French, double"
    for candidate in (text, bare, _NUMBERED.sub("", text).strip(), plain, turned, backward, parts[0]):
        if candidate and candidate.casefold() not in seen:
            seen.add(candidate.casefold())
            yield candidate


# "SN" stuck to the digits may be part of the number and stays.
_BEFORE_NUMBER = re.compile(
    r"^(?:s/n|s\.n\.|serial(?: no\.?| number)?|no\.)\s*[:#.]?\s*(?=\S*\d)"
    r"|^(?:sn|ser)\.?(?:\s*[:#]\s*|\s+)(?=\S*\d)|^[#']\s*",
    re.IGNORECASE,
)


@reads_cells("", no_date=gettext_noop("was turned into a date by the spreadsheet program; type the number as text"))
def parse_serial(text: str) -> Reading[str]:
    """Read a serial or asset number as text: leading zeros stay, ".0" and "S/N" go, "none" is empty."""
    if re.fullmatch(r"\d(?:[.,]\d+)?E\+\d+", text, re.IGNORECASE):
        raise UnreadableError(_("was shortened by the spreadsheet program; type the number as text"))
    plain = re.sub(r"^(\d+)\.0+$", r"\1", _BEFORE_NUMBER.sub("", text))
    note = _("marked as uncertain") if plain.endswith("?") else ""
    plain = plain.rstrip("? (") if note else plain
    return Reading("" if is_nothing(plain) or plain in {"x", "X"} else plain, note)


def serial_key(text: str) -> str:
    """Return a serial as it is compared: no case, blanks, points or dashes; zeros in front count."""
    return re.sub(r"[\s.\-–/_]+", "", text).casefold()


def name_key(text: str) -> str:
    """Return a maker's or model's name as it is compared."""
    return re.sub(r"[\W_]+", "", text.casefold())


# Common practice, no source.
LEVELS: Final = {
    **dict.fromkeys(["student", "beginner", "beginning", "stu", "st", "beg", "entry", "school"], "student"),
    **dict.fromkeys(["intermediate", "int", "inter", "step up", "stepup", "advanced student"], "intermediate"),
}
_HIGHER: Final = frozenset(["professional", "pro", "prof", "advanced", "adv", "artist", "concert", "performance"])


@reads_cells("")
def parse_level(text: str) -> Reading[str]:
    """Read student or intermediate; anything above is kept as intermediate, with a note."""
    plain = " ".join(re.sub(r"[^a-z]+", " ", text.casefold()).split())
    plain = re.sub(r" (level|model|grade|line)$", "", plain)
    if plain in LEVELS:
        return Reading(LEVELS[plain])
    if plain in _HIGHER:
        return Reading("intermediate", _("“%(text)s” is kept as intermediate, the higher of the two levels", text=text))
    raise UnreadableError(_("is not a level; write student or intermediate"))


# Common practice, no source. The second part also counts as the first word of more.
WAYS_OF_COMING: Final = {
    **dict.fromkeys(["buy", "new purchase", "purchase order", "district purchase", "p"], "bought"),
    **dict.fromkeys(["gifted", "donor", "d", "bequest"], "gift"),
    **dict.fromkeys(["transfer in", "xfer", "trans", "moved"], "transfer"),
}
_FIRST_WORDS: Final = {
    "bought": "bought", "purchased": "bought", "purchase": "bought", "po": "bought", "donated": "gift",
    "donation": "gift", "gift": "gift", "given": "gift", "transfer": "transfer", "transferred": "transfer",
}  # fmt: skip


@reads_cells("")
def parse_acquired_by(text: str) -> Reading[str]:
    """Read bought, gift or transfer; "" if it is not known."""
    plain = " ".join(re.sub(r"[^a-z0-9]+", " ", text.casefold()).split())
    if is_nothing(plain):
        return Reading("")
    if known := WAYS_OF_COMING.get(plain) or _FIRST_WORDS.get(plain):
        return Reading(known)
    if way := _FIRST_WORDS.get(plain.split()[0]):
        return Reading(way, _("“%(text)s” is kept as %(way)s", text=text, way=way))
    raise UnreadableError(_("does not say how it was acquired; write bought, gift or transfer"))


_COUNT_WORDS: Final = {"three": 3, "four": 4, "five": 5, "six": 6}


@reads_cells(None, no_date=gettext_noop("is a date, not a number of valves"))
def parse_valves(text: str) -> Reading[int | None]:
    """Read the number of valves: "3", "4 valve", "3+1", "four"."""
    plain = re.sub(r"[\s-]*(valves?|v|rotors?|rotary|pistons?)\.?$", "", text.casefold()).strip()
    if plain in _COUNT_WORDS:
        return Reading(_COUNT_WORDS[plain])
    found = re.fullmatch(r"([1-6])(?:\.0+)?(?:\s*\+\s*([1-3]))?", plain)
    if not found:
        raise UnreadableError(_("is not a number of valves"))
    return Reading(int(found[1]) + int(found[2] or 0))


_FRACTIONS: Final = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅞": "7/8", "⅝": "5/8"}
_TURNED_FRACTION = re.compile(r"(\d{1,2})-([a-z]{3})", re.IGNORECASE)
_MONTH_NUMBERS: Final = {"jan": 1, "feb": 2, "mar": 3, "apr": 4, "may": 5, "jun": 6, "jul": 7, "aug": 8}


@reads_cells("")
def parse_size(text: str) -> Reading[str]:
    """Read a size, and undo the spreadsheet program that took 3/4 for the fourth of March."""
    if found := re.fullmatch(r"\d{4}-(\d{2})-(\d{2})", text):
        size = f"{int(found[1])}/{int(found[2])}"
        return Reading(size, _("the spreadsheet program had made a date of %(size)s", size=size))
    found = _TURNED_FRACTION.fullmatch(text)
    if found and found[2].lower() in _MONTH_NUMBERS:
        size = f"{_MONTH_NUMBERS[found[2].lower()]}/{int(found[1])}"
        return Reading(size, _("“%(text)s” is what a spreadsheet program makes of %(size)s", text=text, size=size))
    for sign, written in _FRACTIONS.items():
        text = re.sub(rf"(?<=\d){sign}", f" {written}", text).replace(sign, written)
    if text.casefold() in {"full", "full size"}:
        return Reading("4/4")
    return Reading(re.sub(r"\s*(?:\"|”|''|inch(?:es)?\b|in\.?$)", " in", text).strip())


_KEY = re.compile(r"((?:[a-g])|(?:bb|cc|ee)(?=\s*[-]?(?:b|flat|♭)|$))\s*-?\s*(b|♭|flat|#|♯|sharp)?", re.IGNORECASE)


@reads_cells("")
def parse_key(text: str) -> Reading[str]:
    """Read a key such as Bb, "B flat", F/Bb or BBb."""
    return Reading("/".join(_one_key(part.strip()) for part in re.split(r"\s*/\s*|\s+and\s+", text)))


def _one_key(text: str) -> str:
    plain = re.sub(r"^(key of|in)\s+", "", text, flags=re.IGNORECASE)
    if plain.casefold() == "bb":
        return "BBb" if plain == "BB" else "Bb"
    found = _KEY.fullmatch(plain)
    if not found:
        raise UnreadableError(_("is not a key; write it like Bb or F/Bb"))
    sign = {"": "", "b": "b", "♭": "b", "flat": "b", "#": "#", "♯": "#", "sharp": "#"}[(found[2] or "").casefold()]
    return f"{found[1].upper()}{sign}"


_YES: Final = frozenset(["y", "yes", "x", "true", "1", "ok", "have", "✓", "✔", "included", "present"])
_NO: Final = frozenset(["n", "no", "false", "0", "none", "missing", "n/a", "-"])


def says_no(cell: Cell) -> bool:
    """Say whether the cell says that something is not there; "n/a" and a dash say nothing of the kind."""
    return cell_text(cell).casefold() in _NO - {"n/a", "-"}


def parse_accessories(cell: Cell, *, header: str, names_one: bool) -> tuple[str, ...]:
    """Read a list of accessories, or a yes and no column that is named after one.

    ``names_one`` says that the heading itself is an accessory ("Case", "Mouthpiece").
    """
    text = cell_text(cell)
    if names_one:
        name = re.sub(r"\s*(?:\?|\(?y\s*/\s*n\)?)\s*$", "", header, flags=re.IGNORECASE).strip()
        if text.casefold() in _YES:
            return (name,)
        return () if not text or text.casefold() in _NO else (f"{name}: {text}",)
    if is_nothing(text):
        return ()
    return tuple(
        part for part in (piece.strip() for piece in re.split(r"[,;/\n]|\s+and\s+|\s*&\s*|\s*\+\s*", text)) if part
    )
