"""Is it worth it? Cost to playing condition against what the instrument is worth and what another would cost to own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from itertools import pairwise
from typing import Any

from core.money import dollars
from inventory.catalog.schema import Catalog
from repairs.rules.effort import Estimate

CENT = Decimal("0.01")


class Answer(StrEnum):
    REPAIR_HERE = "repair_here"
    SEND_OUT = "send_out"
    KEEP_FOR_PARTS = "keep_for_parts"
    RETIRE = "retire"


@dataclass(frozen=True, slots=True)
class WorthSettings:
    """The trade's rules of thumb and the district's money figures: shop defaults, to be replaced by its own.

    Shares are of replacement value. Rates are per year.
    """

    interest: Decimal = Decimal("0.03")
    price_growth: Decimal = Decimal("0.03")
    limit_by_kind: Mapping[str, Decimal] = field(default_factory=dict)  # overrides the kind's own share
    need_now_limit: Decimal = Decimal("0.65")  # once, with a named approver, when a student waits and none is free
    cumulative_limit: Decimal = Decimal("0.75")  # this year's repairs and this one together
    same_part_repairs: Decimal = Decimal(3)  # within two years, this one counted
    approval_above_amount: Decimal = Decimal(150)
    salvage_share: Decimal = Decimal(0)  # of replacement value, at the end of life


SETTINGS = {
    "interest": "interest_rate",
    "price_growth": "price_growth",
    "need_now_limit": "repair_limit_needed_now",
    "cumulative_limit": "cumulative_repair_limit",
    "same_part_repairs": "same_part_repairs",
    "approval_above_amount": "approval_amount",
    "salvage_share": "residual_share",
}  # field of WorthSettings -> setting of the catalog


def settings_of(catalog: Catalog, *, limit_by_kind: Mapping[str, Decimal] | None = None) -> WorthSettings:
    """Return the settings as the catalog has them; what it does not name keeps its default."""
    named: dict[str, Any] = {
        name: catalog.settings[code] for name, code in SETTINGS.items() if code in catalog.settings
    }
    return WorthSettings(limit_by_kind=limit_by_kind or {}, **named)


@dataclass(frozen=True, slots=True)
class WorthFacts:
    """What the answer depends on. Money in dollars of today, years as numbers."""

    kind: str
    repair_limit: Decimal  # the kind's share
    replacement_amount: Decimal  # same level, new
    value_amount: Decimal  # in playing condition, at its age
    life_years: int
    years_left: int  # of useful life once repaired
    upkeep_amount: Decimal  # a year, for an instrument in use
    cost_here: Estimate
    cost_outside: Estimate
    is_doable_here: bool
    is_for_shop: bool  # a shop can do what this bench cannot
    parts_value_amount: Decimal = Decimal(0)
    spent_this_year_amount: Decimal = Decimal(0)
    same_part_repairs_before: int = 0  # in the last two years
    has_cracked_casing: bool = False
    has_matching_casing: bool = False
    rotted_tubes: int = 0  # rotted through
    is_student_waiting: bool = False
    is_other_free: bool = False
    value_words: str = "at its age"  # how the value came about


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the arithmetic: what, how much, and how it came about."""

    label: str
    amount: Decimal | None
    words: str


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule of thumb and what it says here."""

    code: str
    says_repair: bool
    words: str


@dataclass(frozen=True, slots=True)
class Worth:
    """The answer, the rules that spoke, and every figure behind it."""

    answer: Answer
    because: str
    cost_p50_amount: Decimal
    cost_p80_amount: Decimal
    value_amount: Decimal  # in playing condition
    keep_per_year_amount: Decimal
    replace_per_year_amount: Decimal
    rules: tuple[Rule, ...]
    lines: tuple[Line, ...]
    needs_approval: bool
    approval_because: str


def capital_recovery(*, rate: float, years: int) -> float:
    """Return the yearly payment that repays 1 over so many years: i / (1 - (1 + i)^-n); 1 / n without interest."""
    if years < 1:
        raise ValueError(f"{years} years is no span to spread a cost over")
    if rate == 0.0:
        return 1.0 / years
    return float(rate / (1.0 - (1.0 + rate) ** -years))


def equivalent_annual_cost(
    *, first_cost: float, yearly_costs: Sequence[float], rate: float, salvage: float = 0.0
) -> float:
    """Return the equal yearly cost of owning for as many years as ``yearly_costs`` has, paid at each year's end.

    EUAC(n) = [P - S (1+i)^-n + sum of C_k (1+i)^-k] (A/P, i, n).
    """
    years = len(yearly_costs)
    present = first_cost - salvage * (1.0 + rate) ** -years
    present += sum(cost * (1.0 + rate) ** -year for year, cost in enumerate(yearly_costs, start=1))
    return present * capital_recovery(rate=rate, years=years)


def cost_curve(*, first_cost: float, yearly_costs: Sequence[float], rate: float) -> tuple[float, ...]:
    """Return the equivalent annual cost of owning for 1, 2, … years; its lowest point is the economic life."""
    return tuple(
        equivalent_annual_cost(first_cost=first_cost, yearly_costs=yearly_costs[:years], rate=rate)
        for years in range(1, len(yearly_costs) + 1)
    )


def replace_year(*, marginal_costs: Sequence[float], challenger: float) -> int | None:
    """Return the first year in which keeping costs more than the challenger's best, or None if it never does.

    Holds only where the marginal costs of keeping rise from year to year; ValueError otherwise.
    """
    if any(later < earlier for earlier, later in pairwise(marginal_costs)):
        raise ValueError("the yearly costs of keeping must rise for this comparison to hold")
    return next((year for year, cost in enumerate(marginal_costs, start=1) if cost > challenger), None)


def judge_worth(facts: WorthFacts, *, settings: WorthSettings | None = None) -> Worth:
    """Return whether to repair here, send out, keep for parts or retire, with its arithmetic.

    A rule that speaks against the repair decides against it; where none does, the lower yearly cost decides. The cost
    that counts is P80: a promise that holds four times in five.
    """
    given = settings if settings is not None else WorthSettings()
    p50 = _money(facts.cost_here.p50 + facts.cost_outside.p50)
    p80 = _money(facts.cost_here.p80 + facts.cost_outside.p80)
    keep, replace = _yearly(facts, settings=given, cost=float(p80))
    limit, limit_words = _limit(facts, settings=given)
    rules = _rules(facts, settings=given, cost=p80, limit=limit, limit_words=limit_words)
    against = [rule for rule in rules if not rule.says_repair]
    waits = facts.is_student_waiting and not facts.is_other_free
    is_repaired = not against and (keep <= replace or waits) and (facts.is_doable_here or facts.is_for_shop)
    answer = _answer(facts, is_repaired=is_repaired)
    approval = _approval(facts, settings=given, cost=p80) if is_repaired else ""
    return Worth(
        answer=answer,
        because=_because(facts, is_repaired=is_repaired, against=against, keep=keep, replace=replace),
        cost_p50_amount=p50,
        cost_p80_amount=p80,
        value_amount=facts.value_amount,
        keep_per_year_amount=keep,
        replace_per_year_amount=replace,
        rules=rules,
        lines=_lines(facts, settings=given, p50=p50, p80=p80, keep=keep, replace=replace, limit=limit),
        needs_approval=bool(approval),
        approval_because=approval,
    )


def _money(value: float) -> Decimal:
    return Decimal(str(value)).quantize(CENT)


def _yearly(facts: WorthFacts, *, settings: WorthSettings, cost: float) -> tuple[Decimal, Decimal]:
    """Return the equivalent annual cost of repairing and keeping, and of replacing.

    Keeping: the repair now plus what the instrument would sell for in playing condition less the parts, spread over the years left.
    Replacing: the new price over a full life. Upkeep grows with prices in both.
    """
    rate, growth = float(settings.interest), float(settings.price_growth)

    def upkeep(years: int) -> list[float]:
        return [float(facts.upkeep_amount) * (1.0 + growth) ** (year - 1) for year in range(1, years + 1)]

    left = max(facts.years_left, 1)
    keep = equivalent_annual_cost(
        first_cost=cost + float(facts.parts_value_amount), yearly_costs=upkeep(left), rate=rate
    )
    price = float(facts.replacement_amount)
    salvage = price * float(settings.salvage_share) * (1.0 + growth) ** facts.life_years
    replace = equivalent_annual_cost(
        first_cost=price, yearly_costs=upkeep(facts.life_years), rate=rate, salvage=salvage
    )
    return _money(keep), _money(replace)


def _limit(facts: WorthFacts, *, settings: WorthSettings) -> tuple[Decimal, str]:
    usual = settings.limit_by_kind.get(facts.kind, facts.repair_limit)
    if facts.is_student_waiting and not facts.is_other_free and settings.need_now_limit > usual:
        return settings.need_now_limit, "raised once: a student waits and no other is free"
    return usual, "the share set for this kind"


def _rules(
    facts: WorthFacts, *, settings: WorthSettings, cost: Decimal, limit: Decimal, limit_words: str
) -> tuple[Rule, ...]:
    most = (facts.value_amount * limit).quantize(CENT)
    rules = [
        Rule(
            code="share_of_value",
            says_repair=cost <= most,
            words=f"{dollars(cost)} against {limit * 100:.0f}% of {dollars(facts.value_amount)} = {dollars(most)} ({limit_words})",
        )
    ]
    together = cost + facts.spent_this_year_amount
    ceiling = (facts.replacement_amount * settings.cumulative_limit).quantize(CENT)
    rules.append(
        Rule(
            code="cumulative",
            says_repair=together <= ceiling,
            words=f"with {dollars(facts.spent_this_year_amount)} this year {dollars(together)}, against {dollars(ceiling)} "
            f"({settings.cumulative_limit * 100:.0f}% of a new one)",
        )
    )
    count = facts.same_part_repairs_before + 1
    if count > 1:
        rules.append(
            Rule(
                code="same_part",
                says_repair=count < settings.same_part_repairs,
                words=f"repair {count} of the same part in two years; at {settings.same_part_repairs:.0f} it is replaced",
            )
        )
    if facts.has_cracked_casing:
        words = "cracked casing, a matching section is in hand" if facts.has_matching_casing else "cracked casing"
        rules.append(Rule(code="cracked_casing", says_repair=facts.has_matching_casing, words=words))
    if facts.rotted_tubes:
        words = f"{facts.rotted_tubes} rotted through: one tube can be replaced, more are the end of the instrument"
        rules.append(Rule(code="rot", says_repair=facts.rotted_tubes <= 1, words=words))
    return tuple(rules)


def _answer(facts: WorthFacts, *, is_repaired: bool) -> Answer:
    if is_repaired:
        return Answer.REPAIR_HERE if facts.is_doable_here else Answer.SEND_OUT
    return Answer.KEEP_FOR_PARTS if facts.parts_value_amount > 0 else Answer.RETIRE


def _because(facts: WorthFacts, *, is_repaired: bool, against: Sequence[Rule], keep: Decimal, replace: Decimal) -> str:
    if is_repaired and keep > replace:
        return f"a student waits and no other is free, though keeping costs {dollars(keep)} a year against {dollars(replace)}"
    if is_repaired:
        return f"keeping costs {dollars(keep)} a year, replacing {dollars(replace)}"
    if against:
        return "; ".join(rule.words for rule in against)
    if not facts.is_doable_here and not facts.is_for_shop:
        return "neither this bench nor a shop can do it"
    return f"keeping costs {dollars(keep)} a year, replacing only {dollars(replace)}"


def _approval(facts: WorthFacts, *, settings: WorthSettings, cost: Decimal) -> str:
    usual = settings.limit_by_kind.get(facts.kind, facts.repair_limit)
    if cost > facts.value_amount * usual:
        return f"above {usual * 100:.0f}% of its value: only because a student waits"
    if cost > settings.approval_above_amount:
        return f"above {dollars(settings.approval_above_amount)}"
    return ""


def _lines(
    facts: WorthFacts,
    *,
    settings: WorthSettings,
    p50: Decimal,
    p80: Decimal,
    keep: Decimal,
    replace: Decimal,
    limit: Decimal,
) -> tuple[Line, ...]:
    here, outside = _money(facts.cost_here.p80), _money(facts.cost_outside.p80)
    left = max(facts.years_left, 1)
    interest = f"{settings.interest * 100:.1f}% interest"
    upkeep = f"upkeep of {dollars(facts.upkeep_amount)} growing {settings.price_growth * 100:.1f}% a year"
    return (
        Line("At this bench", here, "time, parts and harm; four times in five less"),
        Line("At a shop", outside, "fees of what is sent out; four times in five less"),
        Line("Cost to playing condition, as likely as not", p50, "half the time it costs less"),
        Line("Cost to playing condition, four times in five", p80, "it costs less than this; bench and shop added"),
        Line("Value in playing condition", facts.value_amount, facts.value_words),
        Line("Limit", (facts.value_amount * limit).quantize(CENT), f"{limit * 100:.0f}% of that value"),
        Line(
            "Keeping, a year",
            keep,
            f"{dollars(p80)} and {dollars(facts.parts_value_amount)} of parts given up, over {left} years at {interest} "
            f"({_factor(settings, left):.4f} a year), and {upkeep}",
        ),
        Line(
            "Replacing, a year",
            replace,
            f"{dollars(facts.replacement_amount)} over {facts.life_years} years at {interest} "
            f"({_factor(settings, facts.life_years):.4f} a year), less what is left then, and {upkeep}",
        ),
    )


def _factor(settings: WorthSettings, years: int) -> float:
    return capital_recovery(rate=float(settings.interest), years=years)
