"""After a failed play test: which spots on the instrument explain it, and how to tell them apart."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from django.utils.translation import gettext

from inventory.catalog.load import catalog
from inventory.catalog.schema import MISSING_PART, Kind
from inventory.models import Instrument, PlayTest
from inventory.rules.diagnose import Diagnosis, Suspect
from inventory.rules.notes import shown_note
from inventory.rules.playing.holes import LINK
from inventory.selectors.playing import diagnosis_of

SHOWN = 3
MANY_TIED = 4  # spots in first place; from here on, tests that cover several of them are listed too
MOST_TESTS = 3


def spots_of(test: PlayTest | None, instrument: Instrument, *, most: int = SHOWN) -> dict[str, Any] | None:
    """Group the suspects of a test by spot, best first; None where no note was bad or the chart has changed."""
    diagnosis = diagnosis_of(test, instrument) if test else None
    if diagnosis is None:
        return None
    found = grouped(diagnosis, kind=instrument.kind)
    return {
        "failed": tuple(shown_note(name) for name in diagnosis.failed),
        "spots": found[:most],
        "more": max(len(found) - most, 0),  # spots not shown
        "hints": diagnosis.hints,
        "parting": shared_tests(found),  # tests that cover several of the spots in first place, with how many
    }


def grouped(diagnosis: Diagnosis, *, kind: Kind) -> list[dict[str, Any]]:
    """Return the spots, best first; at each, the faults that explain most there.

    A spot is one place on the instrument, or two where no single one explains the notes.
    """
    by_spot: dict[tuple[tuple[str, str], ...], list[Suspect]] = {}
    for suspect in diagnosis.suspects:
        places = tuple(owner(kind, part=cause.part, place=cause.place) for cause in suspect.causes)
        by_spot.setdefault(places, []).append(suspect)
    best = {places: min(suspect.rank for suspect in suspects) for places, suspects in by_spot.items()}
    sharing = Counter(best.values())
    found = []
    for places, suspects in by_spot.items():
        leading = [suspect for suspect in suspects if suspect.rank == best[places]]
        where = f" {gettext('together with')} ".join(kind.part(part).at(place) for part, place in places)
        tests: dict[str, str] = {}
        for one in leading:
            wheres = [kind.part(cause.part).at(cause.place) for cause in one.causes]
            tests.setdefault(fault_words(one), without_place(one.test, wheres=wheres))
        found.append(
            {
                "part": places[0][0],  # code of the first, for the link
                "where": where,
                "faults": tuple(tests.items()),  # name of the fault and how to test for it; best first
                "rank": best[places],
                "ties": sharing[best[places]] - 1,  # how many other spots explain as well
                "unexplained": tuple(shown_note(name) for name in leading[0].unexplained),
                # Notes that should have failed with it and did not.
                "extra": tuple(shown_note(name) for name in leading[0].extra),
            }
        )
    return sorted(found, key=lambda spot: spot["rank"])


def owner(kind: Kind, *, part: str, place: str) -> tuple[str, str]:
    """Return the part that a place belongs to: springs and tone holes of the whole body only repeat the places of pads."""
    if place and kind.part(part).repeats_places:
        for other in kind.parts:
            if not other.repeats_places and any(one.code == place for one in other.places):
                return other.code, place
    return part, place


def shared_tests(found: Sequence[dict[str, Any]]) -> tuple[tuple[str, int], ...]:
    """Return the tests that cover most of the spots in first place, where too many share it for a list to help."""
    front = [spot for spot in found if spot["rank"] == found[0]["rank"]]
    if len(front) < MANY_TIED:
        return ()
    missing = catalog().faults[MISSING_PART].name  # a missing part is seen without a test
    counted = Counter(test for spot in front for test in {test for name, test in spot["faults"] if name != missing})
    return tuple((test, count) for test, count in counted.most_common(MOST_TESTS) if count > 1)


def without_place(test: str, *, wheres: Sequence[str]) -> str:
    """Return a test without the name of the spot, which is already its heading."""
    head, _, rest = test.partition(": ")
    return rest if rest and len(wheres) == 1 and head.lower() == wheres[0].lower() else test


def fault_words(suspect: Suspect) -> str:
    """Name the faults, each with its detail: "stuck piston (down)"."""
    trade = catalog()
    return f" {gettext('and')} ".join(
        trade.fault_name(cause.fault) + (f" ({detail_words(cause.detail)})" if cause.detail else "")
        for cause in suspect.causes
    )


def detail_words(detail: str) -> str:
    if detail.startswith(LINK):
        return gettext("link to %(key)s") % {"key": detail.removeprefix(LINK)}
    return gettext("stops at %(detail)s") % {"detail": detail} if detail.startswith("position") else detail
