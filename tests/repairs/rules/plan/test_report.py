"""The plan as plain values."""

from __future__ import annotations

import json

from repairs.rules.plan.report import plan_as_dict
from tests.repairs.rules.small_trade import finding, plan_of


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
