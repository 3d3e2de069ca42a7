"""Hand-out beside return. The kinds of change and which faults are wear are common practice of school programs, no source."""

from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.catalog.schema import Cause, Effect, Fault, Severity
from inventory.rules.facts import FindingFact
from loans.rules.compare import Change, accessories_short, compare

LIGHT, MODERATE, SEVERE = Severity


def make_fault(code: str, cause: Cause) -> Fault:
    return Fault(
        code=code,
        name=code,
        effects=dict.fromkeys(Severity, (Effect.LOOKS_ONLY,)),
        words=dict.fromkeys(Severity, "words"),
        test="look",
        accept="none",
        cause=cause,
    )


FAULTS = {
    "dent": make_fault("dent", Cause.DAMAGE),
    "worn_finish": make_fault("worn_finish", Cause.WEAR),
    "leak": make_fault("leak", Cause.EITHER),
}


def seen(part: str, fault: str, severity: Severity = MODERATE, place: str = "") -> FindingFact:
    return FindingFact(part=part, fault=fault, severity=severity, place=place)


@dataclass(frozen=True)
class Case:
    before: tuple[FindingFact, ...]
    after: tuple[FindingFact, ...]
    change: Change
    cause: Cause | None = None


@pytest.mark.parametrize(
    "case",
    [
        pytest.param(Case((seen("bell", "dent"),), (seen("bell", "dent"),), Change.SAME), id="same"),
        pytest.param(
            Case((seen("bell", "dent", LIGHT),), (seen("bell", "dent", SEVERE),), Change.WORSE, Cause.DAMAGE),
            id="worse",
        ),
        pytest.param(Case((seen("bell", "dent", SEVERE),), (seen("bell", "dent", LIGHT),), Change.BETTER), id="better"),
        pytest.param(Case((), (seen("bell", "dent"),), Change.NEW, Cause.DAMAGE), id="new damage"),
        pytest.param(Case((), (seen("bell", "worn_finish"),), Change.NEW, Cause.WEAR), id="new wear"),
        pytest.param(Case((), (seen("pads", "leak"),), Change.NEW, Cause.EITHER), id="new, wear or damage"),
        pytest.param(Case((), (seen("bell", "no_longer_in_catalog"),), Change.NEW), id="a fault the catalog has lost"),
        pytest.param(Case((seen("bell", "dent"),), (), Change.GONE), id="gone"),
    ],
)
def test_one_fault_at_one_place_changes_in_one_way(case):
    [row] = compare(before=case.before, after=case.after, faults=FAULTS)
    assert (row.change, row.cause) == (case.change, case.cause)


def test_the_same_fault_at_another_place_is_another_fault():
    rows = compare(before=[seen("pads", "leak", place="G")], after=[seen("pads", "leak", place="A")], faults=FAULTS)
    assert {(row.place, row.change) for row in rows} == {("G", Change.GONE), ("A", Change.NEW)}


def test_a_part_nobody_looked_at_is_neither_same_nor_gone():
    [row] = compare(before=[seen("bell", "dent")], after=[], faults=FAULTS, looked_at={"leadpipe"})
    assert row.change is Change.NOT_LOOKED_AT


def test_rows_follow_the_walk_and_within_a_part_the_news_comes_first():
    rows = compare(
        before=[seen("bell", "worn_finish"), seen("leadpipe", "dent")],
        after=[seen("bell", "worn_finish"), seen("leadpipe", "dent"), seen("bell", "dent")],
        faults=FAULTS,
        walk=["leadpipe", "bell"],
    )
    assert [(row.part, row.change) for row in rows] == [
        ("leadpipe", Change.SAME),
        ("bell", Change.NEW),
        ("bell", Change.SAME),
    ]


FINDINGS = st.lists(
    st.builds(
        FindingFact,
        part=st.sampled_from(["leadpipe", "bell", "pads"]),
        fault=st.sampled_from(list(FAULTS)),
        severity=st.sampled_from(list(Severity)),
        place=st.sampled_from(["", "G"]),
    ),
    unique_by=lambda fact: (fact.part, fact.place, fact.fault),
)


@given(before=FINDINGS, after=FINDINGS)
def test_every_fault_of_either_inspection_stands_in_exactly_one_row(before, after):
    rows = compare(before=before, after=after, faults=FAULTS)
    keys = [(row.part, row.place, row.fault) for row in rows]
    assert len(keys) == len(set(keys))
    assert set(keys) == {(fact.part, fact.place, fact.fault) for fact in [*before, *after]}


@given(before=FINDINGS, after=FINDINGS)
def test_looking_from_the_other_side_turns_worse_into_better_and_new_into_gone(before, after):
    turned = {
        Change.NEW: Change.GONE,
        Change.GONE: Change.NEW,
        Change.WORSE: Change.BETTER,
        Change.BETTER: Change.WORSE,
    }
    there = {(r.part, r.place, r.fault): r.change for r in compare(before=before, after=after, faults=FAULTS)}
    back = {(r.part, r.place, r.fault): r.change for r in compare(before=after, after=before, faults=FAULTS)}
    assert back == {key: turned.get(change, change) for key, change in there.items()}


def test_accessories_that_all_came_back_are_not_short():
    assert accessories_short({"case": 1, "mouthpiece": 1, "sticks": 2}, {"case": 1, "sticks": 1}) == {
        "mouthpiece": 1,
        "sticks": 1,
    }
