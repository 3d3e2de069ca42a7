"""What a sample says, in words."""

from __future__ import annotations

from decimal import Decimal

import pytest

from desk.pages.samples import (
    conclusion_of,
    fact_lines,
    percent,
    plan_words,
    recorded_facts,
    so_far_words,
    state_words,
    strata_lines,
    what_is_tested,
)
from inventory.models import Sample
from inventory.rules.sampling import SamplePlan
from inventory.selectors.samples import Frame, Progress, redraw_line
from tests.factories import NOW

D = Decimal
RECORDED = {
    "kind": "trumpet", "maker": "Plain Brass Works", "model": "", "serial": "77", "school": "Elm Street Middle",
    "room": "Room 12", "place": "", "whereabouts": "in_store", "verdict": "plays",
}  # fmt: skip


def make_progress(deviations: int, *, size: int = 60, left: int = 0, **sample: object) -> Progress:
    fields = {
        "confidence": D("0.95"), "tolerable_rate": D("0.05"), "expected_rate": D(0), "distribution": "binomial",
        "population": 400, "size": size, "allowed": 0, "tested": ["place"],
    }  # fmt: skip
    results = {"as_recorded": size - deviations - left, "deviates": deviations, "": left}
    return Progress(Sample(**(fields | sample)), results)


def test_a_sample_that_passes_says_what_may_be_relied_on():
    """AICPA, Audit Guide Audit Sampling (2017), table A-3: 60 examined, none deviating, upper limit 4.9%."""
    found = conclusion_of(make_progress(0))
    assert (found["is_passed"], found["limit"], found["rate"]) == (True, "4.9%", "0.0%")
    assert found["lines"][:2] == [
        "None of the 60 instruments deviates.",
        "At 95% confidence, no more than 4.9% of the records are wrong.",
    ]
    assert "supports relying" in found["lines"][2]


@pytest.mark.parametrize(("deviations", "limit"), [(1, "7.7%"), (5, "16.8%")])
def test_one_that_does_not_pass_says_what_that_does_not_mean(deviations, limit):
    """The same table, 60 examined, one and five deviating."""
    found = conclusion_of(make_progress(deviations))
    assert (found["is_passed"], found["limit"]) == (False, limit)
    assert "does not prove" in found["lines"][2]


def test_nothing_is_concluded_before_the_end_nor_of_one_that_was_stopped():
    assert conclusion_of(make_progress(0, left=1)) is None
    assert conclusion_of(make_progress(0, closed_at=NOW, stopped_because="time")) is None
    assert so_far_words(make_progress(1, left=9)).startswith("1 deviation so far, more than the 0")
    assert so_far_words(make_progress(1, left=9, allowed=2)) == "1 deviation so far; the plan allows 2."


def test_the_state_is_said():
    said = [
        state_words(Sample(**fields), left=left)
        for left, fields in (
            (3, {}),
            (0, {}),
            (0, {"closed_at": NOW}),
            (3, {"closed_at": NOW, "stopped_because": "time"}),
        )
    ]
    assert said == [
        "3 left to examine",
        "All examined, ready to finish",
        "Finished",
        "Stopped: there was no time to finish it",
    ]


def test_a_plan_in_a_sentence():
    assert plan_words(found=SamplePlan(59, 0, "binomial"), population=1200) == (
        "Examine 59 instruments of 1,200. The sample passes only if none deviates."
    )
    assert plan_words(found=SamplePlan(93, 1, "binomial"), population=200).endswith("with up to 1 deviation.")
    frame = Frame({"OAK": {"a": 1, "b": 2}, "ELM": {"c": 3}})
    assert strata_lines(SamplePlan(2, 0, "binomial"), frame, words={"ELM": "Elm Street"}) == [
        {"name": "Elm Street", "count": 1, "drawn": 1},
        {"name": "OAK", "count": 2, "drawn": 1},
    ]
    assert strata_lines(SamplePlan(1, 0, "binomial"), Frame({"all": {"a": 1}}), words={}) == []


def test_what_the_register_said_stands_beside_what_it_says_now():
    assert recorded_facts(RECORDED)["Kept at"] == "Elm Street Middle · Room 12"
    lines = {line["label"]: line for line in fact_lines(RECORDED, RECORDED | {"room": "Room 3", "verdict": "plays"})}
    assert lines["Kept at"]["now"] == "Elm Street Middle · Room 3"
    assert {line["now"] for label, line in lines.items() if label != "Kept at"} == {""}


def test_small_words():
    assert [percent(D(one)) for one in ("0.9", "0.025", "0.9990")] == ["90%", "2.5%", "99.9%"]
    assert what_is_tested(Sample(tested=["tag"], tested_words="Its case")) == [
        "It carries the tag that is on record",
        "Its case",
    ]
    assert "abc:$n" in redraw_line(Sample(seed="abc", size=5))
