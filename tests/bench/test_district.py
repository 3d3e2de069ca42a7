"""The large district in small: all that the program checks of itself is true of rows that were inserted directly."""

from __future__ import annotations

import importlib

import pytest

from core.models import Event
from desk.selectors.verifying import differences
from inventory.models import Instrument, Whereabouts
from loans.models import Loan
from repairs.models import Job
from tests.bench.district import build
from tests.bench.figures import Figure, as_rows, duration, growth, lines, middle, p95, times
from tests.bench.sections import SECTIONS
from tests.factories import NOW
from tests.opening import open_all


@pytest.mark.parametrize("name", sorted(SECTIONS))
def test_every_section_can_be_imported(name):
    assert callable(importlib.import_module(SECTIONS[name][0]).section)


def test_figures_for_a_file_and_what_has_grown_since():
    before = as_rows([Figure("flat", 20.0, 25.0, 7, bytes=900), Figure("grown", 20.0)], size=10_000)
    assert before[0] == {
        "name": "flat", "median_ms": 20.0, "p95_ms": 25.0, "queries": 7, "size": 10_000, "bytes": 900,
    }  # fmt: skip
    (line,) = growth([Figure("flat", 40.0), Figure("grown", 41.0), Figure("new", 900.0)], before)
    assert line.startswith("GROWN grown: 20 ms at 10,000 instruments, now 41 ms")


@pytest.fixture
def big(db):
    return build(instruments=120, events=2400, now=NOW)


def test_stored_state_follows_from_the_facts_and_the_chain_holds(big):
    open_all()  # it is written past the services
    assert differences() == (120, [])


def test_there_are_as_many_rows_as_asked_for_and_some_of_each_sort(big):
    assert (big.counts["instruments"], big.counts["events"]) == (120, 2400)
    assert Event.objects.count() == 2400
    assert 40 <= Loan.objects.open().count() <= 70
    assert Job.objects.open().exists()
    where = set(Instrument.objects.values_list("whereabouts", flat=True))
    assert where == {Whereabouts.IN_STORE, Whereabouts.WITH_STUDENT, Whereabouts.ON_BENCH, Whereabouts.GONE}


def test_calls_are_timed_after_a_warm_up():
    called = []
    assert len(times(lambda: called.append(1), runs=5, warm=2)) == 5
    assert len(called) == 7


def test_percentiles_by_nearest_rank():
    taken = [float(n) for n in range(1, 51)]
    assert (middle(taken), p95(taken)) == (25.5, 48.0)


@pytest.mark.parametrize(
    ("figure", "missed"),
    [
        (Figure("a", 59.0, most_ms=60.0), False),
        (Figure("a", 61.0, most_ms=60.0), True),
        (Figure("a", 10.0, queries=16, most_ms=60.0, most_queries=15), True),
        (Figure("a", 10.0), False),
        (Figure("a", bytes=25_001, most_bytes=25_000), True),
    ],
)
def test_a_missed_aim_is_told(figure, missed):
    assert figure.is_missed is missed
    assert ("MISSED" in "\n".join(lines([figure]))) is missed


@pytest.mark.parametrize(("ms", "words"), [(0.5, "0.50 ms"), (25.4, "25 ms"), (1500.0, "1.5 s"), (45_000.0, "45 s")])
def test_durations_are_read_at_a_glance(ms, words):
    assert duration(ms) == words
