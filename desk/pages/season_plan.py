"""The season plan in words: who is seated, what is done where and by when, what it costs, what is left and why."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext, gettext_lazy, ngettext

from core.charts import Chart, Series, Tone
from core.money import dollars
from desk.pages.purchases import kind_words, new_words
from desk.rules.season_plan import (
    FRONTIER_HOURS,
    FRONTIER_MONEY,
    Action,
    Budget,
    BudgetKind,
    Decision,
    Filled,
    Goal,
    More,
    Reason,
    SeasonPlan,
    steps_of,
    why_words,
)
from desk.selectors.season_plan import NO_BENCH, DistrictSeason, make_for
from inventory.models import Whereabouts
from inventory.rules.playing import LEVEL_NAMES
from inventory.rules.purchasing import already_requested

LONG = 100  # lines of one list; of a plan with more, groups are folded
SHOWN = 30  # instruments named beside one reason
FRONTIER_TONES = (Tone.MAIN, Tone.GOOD, Tone.STOP)
BUDGET_NAMES = {
    BudgetKind.REPAIR: gettext_lazy("Parts for in-house repairs"),
    BudgetKind.SHOP: gettext_lazy("Outside shops"),
    BudgetKind.PURCHASE: gettext_lazy("New instruments"),
}


def season_page(
    found: DistrictSeason, plan: SeasonPlan, *, more: Sequence[More], made_at: datetime, needed_by: date | None
) -> dict[str, Any]:
    """What templates/desk/season_plan.html and the paper show."""
    benches, ensembles = _benches(found, plan), _ensembles(found, plan.filled)
    repaired = [line for bench in benches for line in bench["lines"]]
    sent = [_work(found, one) for one in plan.decisions if one.action is Action.SEND_OUT]
    return {
        "schools": [school.name for school in found.schools.values()],
        "made_at": made_at,
        "needed_by": needed_by,
        "goal": found.season.goal,
        "is_priority": found.season.goal is Goal.PRIORITY,
        "seated": plan.seated,
        "wanted": plan.wanted,
        "short": plan.wanted - plan.seated,
        "cost": dollars(plan.cost_amount),
        "is_proven": plan.is_proven,
        "gap": f"{plan.gap * 100:.2f}",
        "ensembles": ensembles,
        "is_long": max(sum(len(one["lines"]) for one in ensembles), len(repaired), len(sent)) > LONG,
        "benches": benches,
        "to_start": [
            line["number"] for bench in benches if bench["is_bench"] for line in bench["lines"] if line["may_start"]
        ],
        "to_send": [line["number"] for line in sent if line["may_start"]],
        "to_wait": [line["number"] for line in (*repaired, *sent) if line["waits"]],
        "to_request": [request for request in _to_request(found, plan) if request["left"]],
        "sent": sent,
        "bought": [_bought(found, one) | {"requested": n} for one, n in _requested(found, plan)],
        "bought_total": dollars(sum((one.amount for one in plan.decisions if one.action is Action.BUY), Decimal(0))),
        "as_they_are": _as_they_are(found, plan.decisions),
        "spare": _named([one for one in plan.decisions if one.action is Action.SPARE], found),
        "left": _left(found, plan.decisions),
        "acts": [words for one in plan.decisions if (words := _act(found, one))],
        "pots": list(_budget_lines(found, plan)),
        "more": [_more(found, one) for one in more],
        "frontier": frontier(found, more),
        "not_computed": len(steps_of(found.season.budgets, money=FRONTIER_MONEY, hours=FRONTIER_HOURS)) - len(more),
    }


def changed_since(before: Mapping[str, Any], page: Mapping[str, Any]) -> dict[str, Any]:
    """What another number did to the plan: seats and cost of the plan before, what came in and what fell out."""
    old, new = before["acts"], page["acts"]
    return {
        "seated": before["seated"],
        "cost": before["cost"],
        "added": [act for act in new if act not in old],
        "dropped": [act for act in old if act not in new],
    }


def _act(found: DistrictSeason, one: Decision) -> str:
    """Return in a few words what is done; "" where nothing is."""
    match one.action:
        case Action.REPAIR:
            return gettext("repair %(number)s") % {"number": one.key}
        case Action.SEND_OUT:
            return gettext("send out %(number)s") % {"number": one.key}
        case Action.BUY:
            bought = _bought(found, one)
            return gettext("buy %(count)d × %(kind)s") % {"count": bought["count"], "kind": bought["kind"]}
    return ""


def _ensembles(found: DistrictSeason, filled: Iterable[Filled]) -> list[dict[str, Any]]:
    """Return the ensembles by school and priority, each with its lines."""
    groups: dict[tuple[str, int, str], list[Filled]] = defaultdict(list)
    for one in filled:
        line = found.seats[one.seats.key]
        groups[found.schools[line.school].name, line.priority, line.ensemble].append(one)
    return [
        {
            "school": school,
            "priority": priority,
            "name": name or gettext("Not in an ensemble"),
            "seated": sum(one.seated for one in lines),
            "wanted": sum(one.seats.count for one in lines),
            "lines": [_line(found, one) for one in lines],
        }
        for (school, priority, name), lines in sorted(groups.items())
    ]


def _as_they_are(found: DistrictSeason, decisions: Iterable[Decision]) -> list[dict[str, Any]]:
    """Return what goes out as it is, by the ensemble whose seats it fills."""
    groups: dict[tuple[str, int, str], list[Decision]] = defaultdict(list)
    for one in decisions:
        if one.action is Action.USE:
            line = found.seats[one.seats]
            groups[found.schools[line.school].name, line.priority, line.ensemble].append(one)
    return [
        {"school": school, "name": name or gettext("Not in an ensemble"), **_named(ones, found)}
        for (school, _priority, name), ones in sorted(groups.items())
    ]


def _line(found: DistrictSeason, one: Filled) -> dict[str, Any]:
    line = found.seats[one.seats.key]
    return {
        "kind": kind_words(line.kind, line.size),
        "level": gettext(LEVEL_NAMES[line.level]) if line.level in LEVEL_NAMES else "",
        "seated": one.seated,
        "wanted": one.seats.count,
        "why": why_words(one.why) if one.why else "",
    }


def _for(found: DistrictSeason, one: Decision) -> str:
    line = found.seats[one.seats]
    return line.ensemble or gettext("no ensemble")


def _work(found: DistrictSeason, one: Decision) -> dict[str, Any]:
    """Return one repair, here or outside, with the page where it begins, or goes on."""
    outlook, instrument = found.outlooks[one.key], found.instruments[one.key]
    number = instrument.asset_number
    begun, url, is_in = "", reverse("repairs:worth", args=[number]), instrument.whereabouts == Whereabouts.IN_STORE
    if outlook.job is not None:
        begun, url = gettext("on the bench"), reverse("repairs:job", args=[outlook.job.pk])
    elif outlook.order is not None:
        begun, url = gettext("shop order open"), reverse("repairs:order", args=[outlook.order.pk])
    option = one.option
    return {
        "number": number,
        "kind": instrument.kind.name,
        "hours": f"{one.hours:.1f}",
        "amount": dollars(one.amount),
        "parts": dollars(option.parts_amount) if option else "",
        "shop": dollars(option.shop_amount) if option and option.shop_amount else "",
        "ready_on": one.ready_on,
        "for": _for(found, one),
        "begun": begun or ("" if is_in else instrument.get_whereabouts_display().lower()),
        "may_start": not begun and is_in,
        "waits": not begun and not is_in,
        "url": url,
    }


def _benches(found: DistrictSeason, plan: SeasonPlan) -> list[dict[str, Any]]:
    """Return what each bench repairs, the first ready first."""
    limits = dict(found.season.budgets.limits())
    groups: dict[str, list[Decision]] = defaultdict(list)
    for one in plan.decisions:
        if one.action is Action.REPAIR and one.option is not None:
            groups[one.option.bench].append(one)
    return [
        {
            "bench": _bench(found, code),
            "is_bench": code != NO_BENCH,
            "hours": f"{sum((one.hours for one in ones), Decimal(0)):.1f}",
            "limit": _hours(limits.get(Budget(BudgetKind.HOURS, code))),
            "lines": [_work(found, one) for one in sorted(ones, key=lambda one: (one.ready_on or date.max, one.key))],
        }
        for code, ones in sorted(groups.items())
    ]


def _bench(found: DistrictSeason, code: str) -> str:
    return gettext("schools without a bench") if code == NO_BENCH else found.benches.get(code, code)


def _hours(limit: Decimal | None) -> str:
    return "" if limit is None else f"{limit:.1f}"


def _bought(found: DistrictSeason, one: Decision) -> dict[str, Any]:
    line = found.seats[one.seats]
    return {
        "kind": new_words(line.kind, line.size, make_for(line.level)),
        "count": one.count,
        "each": dollars(one.purchase.price_amount) if one.purchase else "",
        "amount": dollars(one.amount),
        "ready_on": one.ready_on,
        "school": found.schools[line.school].name,
        "code": line.school,
        "for": _for(found, one),
    }


def _requested(found: DistrictSeason, plan: SeasonPlan) -> Iterator[tuple[Decision, int]]:
    """Return each purchase with how many of it open requests already ask for."""
    bought = [one for one in plan.decisions if one.action is Action.BUY]
    seats = [found.seats[one.seats] for one in bought]
    wanted = [((of.school, of.kind, of.size), one.count) for of, one in zip(seats, bought, strict=True)]
    return zip(bought, already_requested(wanted, requested=found.requested), strict=True)


def _to_request(found: DistrictSeason, plan: SeasonPlan) -> Iterator[dict[str, Any]]:
    """Yield what each school buys, codes and figures as text; ``left`` is how many of it are not requested yet."""
    bought: dict[str, list[Decision]] = defaultdict(list)
    left = Counter[str]()
    seats: dict[str, list[Filled]] = defaultdict(list)
    for one, requested in _requested(found, plan):
        bought[found.seats[one.seats].school].append(one)
        left[found.seats[one.seats].school] += one.count - requested
    for filled in plan.filled:
        seats[found.seats[filled.seats.key].school].append(filled)
    for school, ones in sorted(bought.items()):
        lines: dict[tuple[str, str, str], dict[str, Any]] = {}
        for one in ones:
            seat, new = found.seats[one.seats], one.purchase
            if new is None:
                continue
            key = seat.kind, seat.size, make_for(seat.level).value
            words = {"each": str(new.price_amount), "ready_on": new.ready_on and new.ready_on.isoformat()}
            line = lines.setdefault(key, dict(zip(("kind", "size", "make"), key, strict=True)) | {"count": 0} | words)
            line["count"] += one.count
        yield {
            "school": school,
            "lines": list(lines.values()),
            "left": left[school],
            "seated": sum(filled.seated for filled in seats[school]),
            "wanted": sum(filled.seats.count for filled in seats[school]),
            "for_whom": ", ".join(dict.fromkeys(_for(found, one) for one in ones)),
        }


def _left(found: DistrictSeason, decisions: Iterable[Decision]) -> list[dict[str, Any]]:
    """Return what is left as it is, by its reason."""
    groups: dict[str, list[Decision]] = defaultdict(list)
    for one in decisions:
        if one.action is Action.LEAVE and one.why is not None:
            groups[_why(found, one, one.why)].append(one)
    return [
        {"why": why, **_named(ones, found)}
        for why, ones in sorted(groups.items(), key=lambda group: (-len(group[1]), group[0]))
    ]


def _why(found: DistrictSeason, one: Decision, why: Reason) -> str:
    outlook = found.outlooks.get(one.key)
    if outlook is not None and outlook.is_refused:
        return gettext("Spending on it was refused")
    if why is Reason.NO_WAY and outlook is not None and outlook.order is not None:
        return gettext("Its shop order has no price yet")
    if why is Reason.NO_WAY and found.instruments[one.key].inspected_at is None:
        return gettext("Not inspected yet: inspect it so it can be counted")
    return why_words(why)


def _named(ones: Sequence[Decision], found: DistrictSeason) -> dict[str, Any]:
    """Return how many there are, and the first of them by number."""
    shown = [{"number": one.key, "kind": found.instruments[one.key].kind.name} for one in ones[:SHOWN]]
    return {"count": len(ones), "instruments": shown, "beyond": len(ones) - len(shown)}


def _budget_lines(found: DistrictSeason, plan: SeasonPlan) -> Iterator[dict[str, Any]]:
    """Yield what it costs by purpose, beside what there is."""
    limits, used = dict(found.season.budgets.limits()), plan.used
    for kind, name in BUDGET_NAMES.items():
        limit = limits.get(Budget(kind))
        yield {
            "name": name,
            "used": dollars(used.get(Budget(kind), Decimal(0))),
            "limit": "" if limit is None else dollars(limit),
        }


def frontier(found: DistrictSeason, more: Sequence[More]) -> list[Chart]:
    """Return how many seats more each amount more fills, budget by budget: one chart of money and one of hours.

    With the top ensembles first, a line may fall: one seat there can take two from lower priorities.
    """
    charts = []
    for code, is_hours in (("money", False), ("hours", True)):
        ones = [one for one in more if (one.budget.kind is BudgetKind.HOURS) is is_hours]
        if ones:
            charts.append(_frontier(found, ones, code=code))
    return charts


def _frontier(found: DistrictSeason, ones: Sequence[More], *, code: str) -> Chart:
    xs = [Decimal(0), *sorted({one.more for one in ones})]
    gained = {(one.budget, one.more): one.seats for one in ones}
    budgets = list(dict.fromkeys(one.budget for one in ones))[: len(FRONTIER_TONES)]
    best = max(ones, key=lambda one: (one.seats, -one.more))
    summary = gettext("None of these amounts fills another seat.")
    if best.seats > 0:
        summary = ngettext(
            "%(what)s would fill %(count)d seat more.", "%(what)s would fill %(count)d seats more.", best.seats
        ) % {"what": _more(found, best)["what"], "count": best.seats}
    if any(seats < 0 for one in ones for _, seats in one.by_priority):
        why = gettext("Higher priorities come first, so an amount can take seats from lower ones.")
        summary = f"{summary} {why}"
    return Chart(
        code=code,
        title=gettext("Seats that more hours would fill")
        if code == "hours"
        else gettext("Seats that more money would fill"),
        summary=summary,
        form="steps",
        labels=(),
        xs=[float(x) for x in xs],
        series=[
            Series(
                _bench(found, budget.bench) if code == "hours" else str(BUDGET_NAMES[budget.kind]),
                [0.0, *(gained.get((budget, x)) for x in xs[1:])],
                tone=tone,
            )
            for budget, tone in zip(budgets, FRONTIER_TONES, strict=False)
        ],
        formatter=_seats_more,
        x_formatter=_hours_more if code == "hours" else _dollars_more,
        top=float(max(best.seats, 1)),
        bottom=float(min(one.seats for one in ones)),
    )


def _hours_more(hours: float) -> str:
    return f"{hours:g} h"


def _dollars_more(amount: float) -> str:
    return dollars(round(amount))


def _seats_more(seats: float) -> str:
    """Return what stands at the scale: whole seats; nothing between them."""
    return "" if seats % 1 else f"{seats:+.0f}" if seats else "0"


def _more(found: DistrictSeason, one: More) -> dict[str, Any]:
    """Return one step more of one budget, and what it would fill."""
    if one.budget.kind is BudgetKind.HOURS:
        what = gettext("%(hours)s more hours: %(bench)s") % {
            "hours": one.more,
            "bench": _bench(found, one.budget.bench),
        }
    else:
        what = gettext("%(amount)s more for %(purpose)s") % {
            "amount": dollars(one.more), "purpose": str(BUDGET_NAMES[one.budget.kind]).lower(),
        }  # fmt: skip
    changed = [(priority, seats) for priority, seats in one.by_priority if seats]
    return {
        "what": what,
        "seats": one.seats,
        "is_any": bool(changed),
        "by_priority": ", ".join(
            ngettext(
                "%(seats)+d seat of priority %(priority)d", "%(seats)+d seats of priority %(priority)d", abs(seats)
            )
            % {"seats": seats, "priority": priority}
            for priority, seats in changed
        ),
    }
