"""What the benches have learned, beside what they started from."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from inventory.catalog.load import catalog
from inventory.catalog.schema import Ladder, Rung
from repairs.rules.odds import Odds, Posterior
from repairs.selectors.planning import Learned, learned
from repairs.selectors.promises import kept_everywhere, method_lines

LEVEL = 0.95
HOW = _(
    "Each job is planned again with the faults known when it was opened, at its bench as it is now, and with only what "
    "earlier tries had taught. Its actual time is the sum of its recorded minutes. Faults found later count only toward the "
    "actual time. The play test is not timed and is left out of both. Jobs given up, and jobs with a step nobody timed, "
    "are left out."
)


def learning_page() -> dict[str, Any]:
    """Return all that is learned, district-wide. Two queries while nothing has been tried since."""
    taught = learned()
    ladders, methods = _ladders(taught), method_lines(taught)
    return {
        "tried": sorted((one for one in ladders if one["tries"]), key=lambda one: -one["tries"]),
        "untried": [one for one in ladders if not one["tries"]],
        "tries": sum(one["tries"] for one in ladders),
        "methods": methods,
        "records": sum(line.records for line in methods),
        "kept": kept_everywhere(),
        "odds": taught.odds,
        "times": taught.times,
    }


@lru_cache(maxsize=2)
def _ladders(taught: Learned) -> list[dict[str, Any]]:
    """Every ladder with its odds, remembered until more has been learned: their limits take a while to work out."""
    return [_ladder(ladder, odds=taught.odds) for ladder in catalog().ladders.values()]


def _ladder(ladder: Ladder, *, odds: Odds) -> dict[str, Any]:
    rungs = [_rung(ladder, rung, odds=odds) for rung in ladder.rungs]
    return {"ladder": ladder, "rungs": rungs, "tries": sum(rung["tries"] for rung in rungs)}


def _rung(ladder: Ladder, rung: Rung, *, odds: Odds) -> dict[str, Any]:
    """Return a way to try with the percent that plans use now, its limits, and what one kind and part taught alone."""
    belief = odds.posterior(ladder=ladder.code, rung=rung.code, default_p=rung.p)
    limits = belief.interval(level=LEVEL)
    own = [
        odds.posterior(ladder=ladder.code, rung=rung.code, default_p=rung.p, kind=kind, role=role)
        for (of, code, kind, role), tally in sorted(odds.by_kind_and_role.items())
        if (of, code) == (ladder.code, rung.code) and tally.tries >= odds.fine_tries
    ]
    percents = {"percent": belief.mean, "low": limits.low, "high": limits.high}
    return {
        "rung": rung, "sentence": belief.sentence, "tries": belief.tries, "by_kind": [_own_words(one) for one in own],
        **{name: round(share * 100) for name, share in percents.items()},
    }  # fmt: skip


def _own_words(belief: Posterior) -> str:
    words = gettext("%(scope)s: freed %(freed)d of %(tries)d, plans use %(percent).0f%%")
    percent = belief.mean * 100
    return words % {"scope": belief.scope, "freed": belief.freed, "tries": belief.tries, "percent": percent}
