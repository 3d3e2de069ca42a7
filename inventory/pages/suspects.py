"""After a failed play test: which spots on the instrument explain it, and how to tell them apart."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from django.utils.translation import gettext

from inventory.catalog.load import catalog
from inventory.catalog.schema import MISSING_PART, Kind
from inventory.models import Instrument, PlayTest
from inventory.pages.charts import fingering_text
from inventory.rules.diagnose import Diagnosis, Suspect
from inventory.rules.diagnose.parting import Trial
from inventory.rules.notes import shown_note
from inventory.rules.playing.holes import LINK
from inventory.selectors.playing import diagnosis_of, parting_of

SHOWN = 3
SHARED = 3  # a test that covers so many spots comes before the test of one


def spots_of(test: PlayTest | None, instrument: Instrument, *, most: int = SHOWN) -> dict[str, Any] | None:
    """Group the suspects of a test by spot, best first; None where no note was bad or the chart has changed."""
    diagnosis = diagnosis_of(test, instrument) if test else None
    if diagnosis is None:
        return None
    found = grouped(diagnosis, kind=instrument.kind)
    shown = found[:most]
    tied = next(filter(None, (_tied(shown, rank=spot["rank"]) for spot in shown)), [])
    if tied and tied[0]["rank"] == found[0]["rank"]:
        tied = _tied(found, rank=tied[0]["rank"])  # those not shown are told apart too
    trial = (
        parting_of(instrument, tuple(spot["spotted"] for spot in tied), played=frozenset(diagnosis.tried))
        if tied
        else None
    )
    return {
        "failed": tuple(shown_note(name) for name in diagnosis.failed),
        "spots": shown,
        "more": max(len(found) - most, 0),  # spots not shown
        "hints": diagnosis.hints,
        "parting": parting_words(found, tied=tied, trial=trial, kind=instrument.kind) if tied else "",
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
    found = []
    for places, suspects in by_spot.items():
        leading = [suspect for suspect in suspects if suspect.rank == best[places]]
        where = f" {gettext('together with')} ".join(spot_name(kind, part=part, place=place) for part, place in places)
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
                "unexplained": tuple(shown_note(name) for name in leading[0].unexplained),
                # Notes that should have failed with it and did not.
                "extra": tuple(shown_note(name) for name in leading[0].extra),
                "spotted": tuple(  # what it would have to be
                    tuple(cause.finding for cause in one.causes)
                    for one in leading
                    if all(cause.fault != MISSING_PART for cause in one.causes) or len(leading) == 1
                ),
            }
        )
    return sorted(found, key=lambda spot: spot["rank"])


def spot_name(kind: Kind, *, part: str, place: str) -> str:
    """Name a spot by its place alone where no other part has such a place: "E/B pad", but "pistons, valve 2"."""
    name = kind.part(part).place_name(place)
    named = [one for one in kind.parts if not one.repeats_places and name in {spot.name for spot in one.places}]
    return name if len(named) == 1 else kind.part(part).at(place)


def owner(kind: Kind, *, part: str, place: str) -> tuple[str, str]:
    """Return the part that a place belongs to: springs and tone holes of the whole body only repeat the places of pads."""
    if place and kind.part(part).repeats_places:
        for other in kind.parts:
            if not other.repeats_places and any(one.code == place for one in other.places):
                return other.code, place
    return part, place


def _tied(spots: Sequence[Mapping[str, Any]], *, rank: int) -> list[Mapping[str, Any]]:
    """Return the spots in this place, where several share it."""
    found = [spot for spot in spots if spot["rank"] == rank]
    return found if len(found) > 1 else []


def parting_words(
    found: Sequence[Mapping[str, Any]], *, tied: Sequence[Mapping[str, Any]], trial: Trial | None, kind: Kind
) -> str:
    """Say which spots explain the notes equally well, and the one test that parts them: a note, else a look."""
    is_later = tied[0]["rank"] > found[0]["rank"]
    if is_later:
        text = gettext("Then %(spots)s explain these notes equally well.") % {"spots": _all_of(tied)}
    else:
        text = gettext("%(count)d spots explain these notes equally well.") % {"count": len(tied)}
    if trial:
        return f"{text} {_trial_words(trial, tied=tied, kind=kind)}"
    return f"{text} {_look_words(tied)}"


def _trial_words(trial: Trial, *, tied: Sequence[Mapping[str, Any]], kind: Kind) -> str:
    note = shown_note(trial.written)
    if trial.fingering:
        note = gettext("%(note)s with %(fingering)s") % {
            "note": note,
            "fingering": fingering_text(kind, trial.fingering),
        }
    fails, speaks = ([tied[number] for number in numbers] for numbers in (trial.fails, trial.speaks))
    text = gettext("To tell them apart, play %(note)s. If it is bad: %(fails)s. If it is good: %(speaks)s.") % {
        "note": note,
        "fails": _any_of(fails),
        "speaks": _any_of(speaks),
    }
    others = [spot for number, spot in enumerate(tied) if number not in {*trial.fails, *trial.speaks}]
    return f"{text} {gettext('It says nothing about the %(spots)s.') % {'spots': _any_of(others)}}" if others else text


def _look_words(tied: Sequence[Mapping[str, Any]]) -> str:
    """Say what to look at: a test that covers many of them, or where to begin."""
    missing = catalog().faults[MISSING_PART].name  # a missing part is seen without a test
    tests = [{test: name for name, test in spot["faults"] if test and name != missing} for spot in tied]
    counted = Counter(test for mine in tests for test in mine)
    if not counted:
        return gettext("No test tells them apart: check them in this order.")
    test, count = counted.most_common(1)[0]
    if all(mine.keys() == counted.keys() for mine in tests):
        return gettext("No test tells them apart. This one finds each of them: %(test)s") % {"test": test}
    if SHARED <= count < len(tied):
        words = gettext("No other note tells them apart. One test tells %(count)d of them from the rest: %(test)s")
        return words % {"count": count, "test": test}
    first, mine = next((spot, mine) for spot, mine in zip(tied, tests, strict=True) if mine)
    test, fault = next(iter(mine.items()))
    words = gettext("No other note tells them apart. Begin at the %(spot)s (%(fault)s?): %(test)s")
    return words % {"spot": first["where"], "fault": fault, "test": test}


def _any_of(spots: Sequence[Mapping[str, Any]]) -> str:
    return f" {gettext('or')} ".join(spot["where"] for spot in spots)


def _all_of(spots: Sequence[Mapping[str, Any]]) -> str:
    return f" {gettext('and')} ".join(gettext("the %(spot)s") % {"spot": spot["where"]} for spot in spots)


def without_place(test: str, *, wheres: Sequence[str]) -> str:
    """Return a test without the name of the spot, which is already its heading."""
    if len(wheres) == 1 and test.lower().startswith(f"{wheres[0]}: ".lower()):
        return test[len(wheres[0]) + 2 :]
    return test


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
