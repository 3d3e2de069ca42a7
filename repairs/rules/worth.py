"""Is it worth it? Cost to playing condition against what the instrument is worth and what another would cost to own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from core.money import cents, dollars
from core.translation import gettext as _
from core.translation import gettext_noop, ngettext
from inventory.rules.economic_life import capital_recovery, equivalent_annual_cost
from repairs.rules.effort import Estimate


class Answer(StrEnum):
    REPAIR_HERE = "repair_here"
    SEND_OUT = "send_out"
    KEEP_FOR_PARTS = "keep_for_parts"
    RETIRE = "retire"


@dataclass(frozen=True, slots=True)
class WorthFacts:
    """What the answer depends on. Money in dollars of today, years as numbers."""

    repair_limit: Decimal  # the kind's share of replacement value
    replacement_amount: Decimal  # same level, new
    value_amount: Decimal  # in playing condition, at its age
    life_years: int  # of a new one, whole: its cost is spread over payments at each year's end
    years_left: int  # of useful life once repaired
    upkeep_amount: Decimal  # a year, for an instrument in use
    cost: Estimate  # to playing condition, bench and shop together
    here_mean: float  # of that, on average at this bench
    outside_mean: float  # and at a shop
    is_doable_here: bool
    is_for_shop: bool  # a shop can do what this bench cannot
    parts_value_amount: Decimal = Decimal(0)
    spent_this_year_amount: Decimal = Decimal(0)
    same_part_repairs_before: int = 0  # within same_part_months
    has_cracked_casing: bool = False
    has_matching_casing: bool = False
    rotted_tubes: int = 0  # rotted through
    is_student_waiting: bool = False
    is_other_free: bool = False
    value_words: str = gettext_noop("at its age")  # how the value came about


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
    approval_because: str  # why somebody has to approve it; "" if nobody has to


def real_rate(*, interest: Decimal, growth: Decimal) -> Fraction:
    """Return the interest left once prices have grown: (1 + i) / (1 + g) - 1 (Fisher's equation, any finance text)."""
    return Fraction(1 + interest) / Fraction(1 + growth) - 1


def judge_worth(facts: WorthFacts, *, settings: Mapping[str, Decimal]) -> Worth:
    """Return whether to repair here, send out, keep for parts or retire, with its arithmetic.

    ``settings`` are those of the catalog: the trade's rules of thumb and the district's money figures. The cost that
    counts is P80: what four such repairs in five stay within. A rule that speaks against the repair decides against it.
    Where none does, the lower yearly cost decides, except that a waiting student for whom no other is free gets the
    repair whatever it costs a year. A cost just above the share of replacement value speaks against it only where
    keeping also costs more a year. What neither this bench nor a shop can do is never advised.
    """
    return _Calculation(facts, settings).worth()


def is_within_refusal(*, parts_amount: Decimal, cost_amount: Decimal, spent_amount: Decimal, limit: Decimal) -> bool:
    """Return whether a step may still be begun in a job whose repair was refused.

    By hand alone, without a part that costs money, and while all that the job has cost stays within the limit that
    needs no approval.
    """
    return parts_amount <= 0 and spent_amount + cost_amount <= limit


class _Calculation:
    """The figures behind one answer, each worked out once. Shares are of replacement value, rates per year."""

    def __init__(self, facts: WorthFacts, settings: Mapping[str, Decimal]) -> None:
        self.facts, self.settings = facts, settings
        self.p50, self.p80 = cents(facts.cost.p50), cents(facts.cost.p80)
        self.real_rate = real_rate(interest=settings["interest_rate"], growth=settings["price_growth"])
        self.years_left = max(facts.years_left, 1)
        self.is_needed_now = facts.is_student_waiting and not facts.is_other_free
        # A named approver may go above the share set for the kind, once, so that a student can play.
        self.limit = max(facts.repair_limit, settings["repair_limit_needed_now"] if self.is_needed_now else Decimal(0))
        self.most = self._most(self.limit)
        self.keep, self.replace = self._yearly()

    def worth(self) -> Worth:
        facts, rules = self.facts, self._rules()
        against = [rule for rule in rules if not rule.says_repair]
        is_possible = facts.is_doable_here or facts.is_for_shop
        is_repaired = not against and (self.keep <= self.replace or self.is_needed_now) and is_possible
        if is_repaired:
            answer = Answer.REPAIR_HERE if facts.is_doable_here else Answer.SEND_OUT
        else:
            answer = Answer.KEEP_FOR_PARTS if facts.parts_value_amount > 0 else Answer.RETIRE
        return Worth(
            answer=answer,
            because=self._because(against, is_repaired=is_repaired),
            cost_p50_amount=self.p50,
            cost_p80_amount=self.p80,
            value_amount=facts.value_amount,
            keep_per_year_amount=self.keep,
            replace_per_year_amount=self.replace,
            rules=rules,
            lines=self._lines(),
            approval_because=self._approval() if is_repaired else "",
        )

    def _most(self, share: Decimal) -> Decimal:
        return cents(self.facts.replacement_amount * share)

    def _keeps_to(self, share: Decimal) -> bool:
        """Whether the cost is within a share of replacement value, or so little above it that the year decides."""
        near = self._most(share * (1 + self.settings["near_limit_share"]))
        return self.p80 <= (near if self.keep <= self.replace else self._most(share))

    def _yearly(self) -> tuple[Decimal, Decimal]:
        """Return the equivalent annual cost of repairing and keeping, and of replacing, in dollars of today.

        Keeping: the repair now and the parts given up, spread over the years left. Replacing: the new price less what
        is left at the end, over a full life. Lives are unequal, and whoever keeps an instrument for three years pays a
        higher price for the next; so both are spread at the interest above the growth of prices.
        """
        facts, rate = self.facts, self.real_rate

        def yearly(first_cost: Decimal, *, years: int, salvage: Decimal = Decimal(0)) -> Decimal:
            upkeep = [facts.upkeep_amount] * years
            cost = equivalent_annual_cost(first_cost=first_cost, yearly_costs=upkeep, rate=rate, salvage=salvage)
            return cents(cost)

        price = facts.replacement_amount
        return (
            yearly(self.p80 + facts.parts_value_amount, years=self.years_left),
            yearly(price, years=facts.life_years, salvage=price * self.settings["residual_share"]),
        )

    def _rules(self) -> tuple[Rule, ...]:
        facts, settings, cost = self.facts, self.settings, self.p80
        is_raised = self.limit > facts.repair_limit
        why = _("raised once: a student waits and no other is free") if is_raised else _("the share set for this kind")
        is_kept = self._keeps_to(self.limit)
        if is_kept and cost > self.most:
            why += _("; so little above it that the cost per year decides")
        together, spent = cost + facts.spent_this_year_amount, dollars(facts.spent_this_year_amount)
        new_share = settings["cumulative_repair_limit"]
        ceiling = cents(facts.replacement_amount * new_share)
        share = _(
            "%(cost)s against %(share)s of %(price)s for a new one = %(most)s (%(why)s)",
            cost=dollars(cost), share=f"{self.limit * 100:.0f}%", price=dollars(facts.replacement_amount),
            most=dollars(self.most), why=why,
        )  # fmt: skip
        year = _(
            "with %(spent)s this year %(together)s, against %(ceiling)s (%(share)s of a new one)",
            spent=spent, together=dollars(together), ceiling=dollars(ceiling), share=f"{new_share * 100:.0f}%",
        )  # fmt: skip
        rules = [Rule("share_of_value", is_kept, share), Rule("cumulative", together <= ceiling, year)]
        count, end = facts.same_part_repairs_before + 1, settings["same_part_repairs"]
        if count > 1:
            words = _(
                "repair %(count)s of the same part in %(months)s months; at %(end)s it is replaced",
                count=count,
                months=f"{settings['same_part_months']:.0f}",
                end=f"{end:.0f}",
            )
            rules.append(Rule("same_part", count < end, words))
        if facts.has_cracked_casing:
            words = _("cracked casing")
            if facts.has_matching_casing:
                words = _("cracked casing, a matching section is in hand")
            rules.append(Rule("cracked_casing", facts.has_matching_casing, words))
        if facts.rotted_tubes:
            words = _(
                "%(tubes)s rotted through: one tube can be replaced, more are the end of the instrument",
                tubes=facts.rotted_tubes,
            )
            rules.append(Rule("rot", facts.rotted_tubes <= 1, words))
        return tuple(rules)

    def _because(self, against: Sequence[Rule], *, is_repaired: bool) -> str:
        costs = {"keep": dollars(self.keep), "replace": dollars(self.replace)}
        if is_repaired and self.keep > self.replace:
            return _(
                "a student waits and no other is free, though keeping costs %(keep)s a year against %(replace)s",
                **costs,
            )
        if is_repaired:
            return _("keeping costs %(keep)s a year, replacing %(replace)s", **costs)
        if against:
            return "; ".join(rule.words for rule in against)
        if not self.facts.is_doable_here and not self.facts.is_for_shop:
            return _("neither this bench nor a shop can do it")
        return _("keeping costs %(keep)s a year, replacing only %(replace)s", **costs)

    def _approval(self) -> str:
        usual, limit = self.facts.repair_limit, self.settings["approval_amount"]
        if not self._keeps_to(usual):
            return _("above %(share)s of a new one's price: only because a student waits", share=f"{usual * 100:.0f}%")
        return _("above %(limit)s", limit=dollars(limit)) if self.p80 > limit else ""

    def _lines(self) -> tuple[Line, ...]:
        facts, settings = self.facts, self.settings
        upkeep = _("upkeep of %(amount)s, in dollars of today", amount=dollars(facts.upkeep_amount))
        interest, growth = (f"{settings[code] * 100:.1f}%" for code in ("interest_rate", "price_growth"))

        def spread(years: int) -> str:
            factor = capital_recovery(rate=self.real_rate, years=years)
            return ngettext(
                "over %(number)s year at %(interest)s interest less %(growth)s growth of prices (%(factor)s a year)",
                "over %(number)s years at %(interest)s interest less %(growth)s growth of prices (%(factor)s a year)",
                years, interest=interest, growth=growth, factor=f"{float(factor):.4f}",
            )  # fmt: skip

        price = dollars(facts.replacement_amount)
        kept = _(
            "%(cost)s and %(parts)s of parts given up, %(spread)s, and %(upkeep)s",
            cost=dollars(self.p80), parts=dollars(facts.parts_value_amount),
            spread=spread(self.years_left), upkeep=upkeep,
        )  # fmt: skip
        replaced = _(
            "%(price)s %(spread)s, less what is left then, and %(upkeep)s",
            price=price, spread=spread(facts.life_years), upkeep=upkeep,
        )  # fmt: skip
        over = _("%(share)s of %(price)s, the price of a new one", share=f"{self.limit * 100:.0f}%", price=price)
        return (
            Line(_("At this bench"), cents(facts.here_mean), _("time, parts and harm, on average")),
            Line(_("At a shop"), cents(facts.outside_mean), _("fees of what is sent out, on average")),
            Line(_("Cost to playing condition, as likely as not"), self.p50, _("half the time it costs less")),
            Line(
                _("Cost to playing condition, four times in five"),
                self.p80,
                _("it costs less than this, bench and shop together"),
            ),
            Line(_("Value in playing condition"), facts.value_amount, _(facts.value_words)),
            Line(_("Limit"), self.most, over),
            Line(_("Keeping, a year"), self.keep, kept),
            Line(_("Replacing, a year"), self.replace, replaced),
        )
