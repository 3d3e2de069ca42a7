"""The guide: short pages about work on the screens, one file each in ``fixtures/guide``, and in ``es`` below it in Spanish.

In a file, ``{Fine}`` is a word of a screen, written as the program's own sentence: it is translated as the screen is. A page
that is missing in a language is read in English.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

import yaml

FOLDER: Final = Path(__file__).resolve().parents[2] / "fixtures" / "guide"
PICTURE: Final = "picture"  # what it shows, for whoever does not see it; scripts/shots.py takes it, named as the page
SCREEN_WORD: Final = re.compile(r"\{([^{}]+)\}")
SORTS: Final = ("p", "steps", "points", "caution", PICTURE)
ENGLISH: Final = "en"


@dataclass(frozen=True, slots=True)
class Block:
    """A paragraph, a list, a caution or a picture; each line may hold words of a screen."""

    sort: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class GuidePage:
    code: str
    title: str
    also: str  # words that people may search by, besides the text
    language: str
    blocks: tuple[Block, ...]

    @property
    def picture(self) -> str:
        """Where its picture is among the static files: of the screen in its own language."""
        folder = "" if self.language == ENGLISH else f"{self.language}/"
        return f"guide/{folder}{self.code}.webp"

    @property
    def lines(self) -> tuple[str, ...]:
        return tuple(line for block in self.blocks for line in block.lines)


@cache
def codes() -> tuple[str, ...]:
    """Every page, in the order of the guide."""
    return tuple(_index())


def guide_page(code: str, *, language: str) -> GuidePage:
    """Return the page in a language such as "es-mx"; KeyError if there is none of that code."""
    return _pages(language.partition("-")[0])[code]


def guide(*, language: str) -> list[GuidePage]:
    return [guide_page(code, language=language) for code in codes()]


def page_for(view_name: str) -> str | None:
    """Return the code of the page that helps with a screen: the longest start of its name that a page is for."""
    fits = (start for start in starts() if view_name.startswith(start))
    best = max(fits, key=len, default=None)
    return None if best is None else starts()[best]


@cache
def starts() -> dict[str, str]:
    """The start of a screen's name -> the page that helps with it."""
    return {start: code for code, named in _index().items() for start in named}


@cache
def _index() -> dict[str, list[str]]:
    read: dict[str, list[str]] = yaml.safe_load((FOLDER / "screens.yaml").read_text("utf-8"))
    return read


@cache
def _pages(language: str) -> dict[str, GuidePage]:
    return {code: _page(code, language) for code in codes()}


def _page(code: str, language: str) -> GuidePage:
    path = FOLDER / language / f"{code}.yaml" if language.isalpha() else FOLDER
    if language == ENGLISH or not path.is_file():
        path, language = FOLDER / f"{code}.yaml", ENGLISH
    read = yaml.safe_load(path.read_text("utf-8"))
    blocks = []
    for one in read["text"]:
        ((sort, content),) = one.items()
        if sort not in SORTS:
            raise ValueError(f"{path.name}: {sort} is none of {', '.join(SORTS)}")
        blocks.append(Block(sort, (content,) if isinstance(content, str) else tuple(content)))
    return GuidePage(code, read["title"], read.get("also", ""), language, tuple(blocks))
