"""Before the season: which repairs, orders and purchases fill the most seats with these hours and this money?

Pure. ``plan_season`` makes the plan, ``more_of`` says what more of each budget would buy, ``why_words`` says a reason.
"""

from __future__ import annotations

from desk.rules.season_plan.facts import (
    ALL_BENCHES,
    Action,
    Budget,
    BudgetKind,
    Budgets,
    Candidate,
    Goal,
    Option,
    Purchase,
    Season,
    Seats,
)
from desk.rules.season_plan.more import FRONTIER_HOURS, FRONTIER_MONEY, More, more_of, steps_of
from desk.rules.season_plan.result import Decision, Filled, Reason, SeasonPlan, plan_season
from desk.rules.season_plan.words import why_words

__all__ = [
    "ALL_BENCHES",
    "FRONTIER_HOURS",
    "FRONTIER_MONEY",
    "Action",
    "Budget",
    "BudgetKind",
    "Budgets",
    "Candidate",
    "Decision",
    "Filled",
    "Goal",
    "More",
    "Option",
    "Purchase",
    "Reason",
    "Season",
    "SeasonPlan",
    "Seats",
    "more_of",
    "plan_season",
    "steps_of",
    "why_words",
]
