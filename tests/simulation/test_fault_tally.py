"""Every fault of every kind leads back to itself."""

from __future__ import annotations

import pytest

from inventory.rules.diagnose import survey
from tests.inventory.rules.cases import CATALOG, KINDS, WITH_NOTES, make_chart
from tests.simulation.fault_tally import RankTally, rank_tally

FROM_BEST = 0.85  # of what the best possible order could reach


FIRST_OF_ITS_CHART = sorted({KINDS[code].chart: code for code in reversed(WITH_NOTES)}.values())
FEW = FIRST_OF_ITS_CHART[::5]
EVERY_DAY = [pytest.param(code, marks=() if code in FEW else pytest.mark.drill) for code in WITH_NOTES]


@pytest.mark.parametrize("code", EVERY_DAY)
def test_every_single_fault_is_predicted_or_silent_and_those_predicted_are_on_the_first_rank(code):
    """None drops out: of each place and fault with an effect on sound or pitch, one of the two lists has it."""
    kind, chart = KINDS[code], make_chart(code)
    options = {option.code: option.default for option in kind.options}
    given = {"chart": chart, "options": options, "faults": CATALOG.faults, "roles": CATALOG.roles}
    surveyed = survey(kind, "first_year", **given)
    tally = rank_tally(kind=kind, surveyed=surveyed, **given)
    assert tally.total > 0
    assert tally.listed == tally.shares_first == tally.total
    assert 0 < tally.first <= tally.first_spot <= tally.most_first_spot <= tally.total
    assert tally.first_spot >= FROM_BEST * tally.most_first_spot
    told = {(one.finding.part, one.finding.place, one.finding.fault) for one in surveyed.predictions}
    silent = {(one.part, one.place, one.fault) for one in surveyed.silent}
    assert told.isdisjoint(silent)
    assert len(silent) == len(surveyed.silent)
    linked = {hole for ids in getattr(chart, "closes", {}).values() if len(ids) > 1 for hole in ids}
    bare = {hole.id for hole in getattr(chart, "holes", ()) if hole.rest == "finger"}
    for part in kind.parts_for(options):
        for fault in set(CATALOG.roles[part.role].faults) - {"missing_part"}:
            found = {effect for effects in CATALOG.faults[fault].effects.values() for effect in effects}
            heard = found & {"bends_pitch", "loses_notes", "stops_sound"}
            for place in [one.code for one in part.places] or [""] if heard else ():
                is_unlinked = fault == "regulation_off" and place and place not in linked and chart is not None
                if not is_unlinked and not (place in bare and fault.startswith(("pad", "key", "spring"))):
                    assert (part.code, place, fault) in told | silent


def test_to_tell_weak_notes_from_dead_ones_parts_more_faults():
    plain, told = (
        rank_tally(
            kind=KINDS["flute"], chart=make_chart("flute"), options={}, faults=CATALOG.faults, roles=CATALOG.roles,
            tells_weak=tells_weak,
        )
        for tells_weak in (False, True)
    )  # fmt: skip
    assert told.total == plain.total
    assert told.listed == told.total
    assert told.first > plain.first
    assert told.first_spot >= plain.first_spot


def test_tallies_add_up():
    one = RankTally(total=3, listed=3, shares_first=2, first_spot=2, first=1, most_first_spot=3, likely=1.5, silent=4)
    both = one + one
    assert (both.total, both.listed, both.shares_first, both.first_spot, both.first) == (6, 6, 4, 4, 2)
    assert (both.most_first_spot, both.likely, both.likely_first_spot) == (6, 3.0, 0.0)
    assert both.silent == 8
