"""The plan as plain values."""

from __future__ import annotations

import json

from repairs.rules.effort import TimeRecord, learn_times
from repairs.rules.facts import Outcome
from repairs.rules.plan.report import plan_as_dict
from tests.repairs.rules.small_trade import attempt, finding, plan_of


def test_a_plan_is_told_in_plain_values():
    plan = plan_of(finding("main_slide", "stuck"), finding("leadpipe", "rot"), finding("finish", "scratch"))
    told = json.loads(json.dumps(plan_as_dict(plan)))
    step = told["steps"][0]
    assert (step["method"], step["part"], step["rung"]) == ("free_slide", "main_slide", "hand")
    assert step["minutes"] == {"low": 1, "likely": 2, "high": 4}
    assert [rung["state"] for rung in step["next_rungs"]][-1] == "outside"
    assert {"wait_h", "cost", "hazards", "tools", "prerequisites"} <= set(step)
    assert set(told["attended_minutes"]) == set(told["cost"]) == {"p50", "p80", "mean"}
    assert told["sent_out"][0]["fee"] == {"low": 80, "high": 140}
    assert told["left"][0]["why"] == "looks only: it does not affect playing"
    assert told["steps"][-1]["prerequisites"] == ["free_slide:main_slide::hand"]


def test_figures_are_rounded_and_nothing_is_an_empty_text():
    """A bench that is a third slower all over: 2 min, a third of the way to what it has been timed at."""
    times = learn_times([TimeRecord(method="slide.hand", minutes=1.7, likely=1.2345)] * 4)
    plan = plan_of(
        finding("main_slide", "stuck"), finding("leadpipe", "rot"),
        times=times, attempts=[attempt("take_felts_out", Outcome.SKIPPED)],
    )  # fmt: skip
    told = plan_as_dict(plan)
    step, last = told["steps"][0], told["steps"][-1]
    for name in ("low", "likely", "high"):
        assert step["minutes"][name] == round(getattr(plan.steps[0].minutes, name), 2) != plan.steps[0].minutes.low
    assert told["attended_minutes"]["p80"] == round(plan.taken.attended_minutes.p80, 2)
    assert step["odds"] == {"p": 0.3, "says": "not tried here yet; starting guess 30%"}
    assert (step["blocked_because"], step["place"], step["setup"], step["status"]) == (None, None, None, "ready")
    assert (last["part"], last["rung"], last["status"]) == (None, None, "blocked")
    assert last["blocked_because"].startswith("first: Hand (the play test comes last)")
    assert "odds" not in last
    assert told["done"] == [{"key": "take_felts_out", "say": "Take felts out", "outcome": "skipped"}]
    assert told["sent_out"] == [{
        "finding": {"part": "leadpipe", "place": None, "fault": "rot", "severity": "moderate"},
        "method": "new_pipe", "say": "New pipe", "why": "specialist work", "fee": {"low": 80.0, "high": 140.0},
        "parts": [], "is_shared": False, "wait_h": 240.0,
    }]  # fmt: skip
