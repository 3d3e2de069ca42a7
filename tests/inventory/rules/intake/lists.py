"""Inventory lists for the tests beside this file: rows, mappings, and a small stock of words for kinds."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from core.sheets import Cell, SheetRow, read_sheet
from inventory.rules.intake.headings import is_heading
from inventory.rules.intake.judge import KnownFleet, RowJudgement, judge_rows
from inventory.rules.intake.mapping import ColumnMapping, guess_mapping
from inventory.rules.intake.row import Places, RowReader, place_key

TODAY = date(2026, 11, 25)

KIND_WORDS = {
    "trumpet": "trumpet",
    "tpt": "trumpet",
    "clarinet": "clarinet_bb",
    "bb clarinet": "clarinet_bb",
    "alto sax": "sax_alto",
    "flute": "flute",
    "tuba": "tuba",
}
KIND_NAMES = {"trumpet": "Trumpet", "clarinet": "Clarinet in Bb", "alto sax": "Alto saxophone", "flute": "Flute"}


def find_kind(text: str) -> str | None:
    return KIND_WORDS.get(" ".join(re.sub(r"[^a-z0-9]+", " ", text.casefold()).split()))


def make_places(**overrides: object) -> Places:
    values: dict[str, object] = {
        "schools": {place_key(name): code for name, code in {"Maple Hollow": "MH", "MH": "MH", "East": "EA"}.items()},
        "rooms": {"MH": {place_key("Band Room"): "Band Room", place_key("112"): "112"}},
        "own_school": "MH",
    }
    return Places(**(values | overrides))  # type: ignore[arg-type]


def make_rows(*rows: Sequence[Cell], first: int = 2) -> list[SheetRow]:
    return [SheetRow(number, tuple(cells)) for number, cells in enumerate(rows, start=first)]


def make_mapping(*header: str) -> ColumnMapping:
    return guess_mapping(header=header, sample_rows=(), remembered={}, find_kind=find_kind)


def make_reader(
    mapping: ColumnMapping,
    *,
    places: Places | None = None,
    longest: Mapping[str, int] | None = None,
    **more: Any,
) -> RowReader:
    known = {"find_kind": find_kind, "kind_words": KIND_NAMES, "places": places or make_places()}
    return RowReader(mapping=mapping, today=TODAY, longest=longest, **known, **more)


def judged(
    rows: Sequence[SheetRow], *header: str, known: KnownFleet | None = None, places: Places | None = None
) -> list[RowJudgement]:
    reader = make_reader(make_mapping(*header), places=places)
    return list(judge_rows(rows=rows, reader=reader, known=known or KnownFleet()))


def judged_file(data: bytes, *, known: KnownFleet | None = None) -> list[RowJudgement]:
    """Judge a whole file with the guessed mapping."""
    sheet = read_sheet(data=data, filename="list", is_heading=is_heading)
    mapping = guess_mapping(header=sheet.header, sample_rows=sheet.sample, remembered={}, find_kind=find_kind)
    return list(judge_rows(rows=sheet.rows, reader=make_reader(mapping), known=known or KnownFleet()))
