"""Before the season: which repairs, orders and purchases fill the most seats with these hours and this money?

Pure. ``plan_season`` makes the plan, ``more_of`` says what more of each budget would buy, ``why_words`` says a reason.
"""

from __future__ import annotations

from desk.rules.season_plan.facts import (
    ALL_BENCHES,
    Budgets,
    Candidate,
    Do,
    Goal,
    Option,
    Pot,
    PotKind,
    Purchase,
    Season,
    Seats,
)
from desk.rules.season_plan.more import More, more_of
from desk.rules.season_plan.result import Decision, Filled, SeasonPlan, Why, plan_season
from desk.rules.season_plan.words import why_words

__all__ = [
    "ALL_BENCHES",
    "Budgets",
    "Candidate",
    "Decision",
    "Do",
    "Filled",
    "Goal",
    "More",
    "Option",
    "Pot",
    "PotKind",
    "Purchase",
    "Season",
    "SeasonPlan",
    "Seats",
    "Why",
    "more_of",
    "plan_season",
    "why_words",
]
