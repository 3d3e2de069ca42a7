"""How long it pays to keep an instrument: what it costs a year, spread evenly, if it is kept for 1, 2, … years.

Exact: amounts and rates are decimals or fractions, and so is what comes out, until it is rounded to the cent once. The
formulas are those of any text on engineering economics (Newnan, Eschenbach and Lavelle, Engineering Economic Analysis,
ch. 13): the first cost is paid at once, everything else at the end of its year, and a rate is a share per year.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from core.money import cents
from core.translation import gettext as _
from core.translation import ngettext

Number = Decimal | Fraction | int
MOST_YEARS = 200


class EconomicLifeError(ValueError):
    """No life can be worked out from these figures; the sentence says why."""


@dataclass(frozen=True, slots=True)
class EconomicLife:
    """The years of keeping that cost least a year, and what each number of years costs."""

    years: int  # the fewest, where several cost the same
    annual_amount: Decimal
    curve: tuple[Decimal, ...]  # dollars a year, for keeping 1, 2, … years


def capital_recovery(*, rate: Number, years: int) -> Fraction:
    """Return the yearly payment that repays 1 over so many years: i / (1 - (1 + i)^-n); 1 / n without interest."""
    if years < 1:
        raise ValueError(f"{years} years is no span to spread a cost over")
    interest = Fraction(rate)
    if not interest:
        return Fraction(1, years)
    growth = (1 + interest) ** years
    return interest * growth / (growth - 1)


def equivalent_annual_cost(
    *, first_cost: Number, yearly_costs: Sequence[Number], rate: Number, salvage: Number = 0
) -> Fraction:
    """Return the equal yearly cost of owning for as many years as ``yearly_costs`` has, paid at each year's end.

    EUAC(n) = [P - S (1+i)^-n + sum of C_k (1+i)^-k] (A/P, i, n).
    """
    years, growth = len(yearly_costs), 1 + Fraction(rate)
    present = Fraction(first_cost) - Fraction(salvage) / growth**years
    present += sum(Fraction(cost) / growth**year for year, cost in enumerate(yearly_costs, start=1))
    return present * capital_recovery(rate=rate, years=years)


def cost_curve(
    *, first_cost: Number, yearly_costs: Sequence[Number], rate: Number, salvages: Sequence[Number] = ()
) -> tuple[Fraction, ...]:
    """Return the equivalent annual cost of owning for 1, 2, … years; its lowest point is the economic life.

    ``salvages`` is what it brings at the end of each year, nothing if left out.
    """
    growth = 1 + Fraction(rate)
    paid, due = Fraction(first_cost), Fraction(1)  # both with interest to the end of the year
    curve = []
    for year, (cost, salvage) in enumerate(
        zip(yearly_costs, salvages or [0] * len(yearly_costs), strict=True), start=1
    ):
        paid = paid * growth + Fraction(cost)
        due *= growth
        sinking = Fraction(rate) / (due - 1) if due != 1 else Fraction(1, year)
        curve.append((paid - Fraction(salvage)) * sinking)
    return tuple(curve)


def economic_life(
    *, purchase: Decimal, upkeep: Sequence[Decimal], rate: Decimal, salvage: Sequence[Decimal] | None = None
) -> EconomicLife:
    """Return the economic life from the price, and by year of age upkeep and what a sale would bring, in dollars.

    EconomicLifeError for no years, more than 200, lists of unequal length, amounts below 0 or a rate outside 0 to 1.
    """
    sold = list(salvage) if salvage is not None else [Decimal(0)] * len(upkeep)
    if len(sold) != len(upkeep):
        raise EconomicLifeError(
            _(
                "Upkeep has %(upkeep)s and salvage %(salvage)s; they must have the same years.",
                upkeep=_years(len(upkeep)),
                salvage=_years(len(sold)),
            )
        )
    if not 1 <= len(upkeep) <= MOST_YEARS:
        raise EconomicLifeError(
            _("Upkeep has %(upkeep)s; it needs from 1 to %(most)s.", upkeep=_years(len(upkeep)), most=MOST_YEARS)
        )
    if not 0 <= rate < 1:
        raise EconomicLifeError(
            _("The rate %(rate)s must be 0 or more and below 1: 0.05 is 5%% a year.", rate=f"{rate:f}")
        )
    for name, amounts in ((_("purchase"), [purchase]), (_("upkeep"), upkeep), (_("salvage"), sold)):
        if below := next((amount for amount in amounts if amount < 0), None):
            raise EconomicLifeError(_("%(name)s %(amount)s is below 0.", name=name, amount=f"{below:f}"))
    curve = cost_curve(first_cost=purchase, yearly_costs=upkeep, rate=rate, salvages=sold)
    least = min(curve)
    return EconomicLife(
        years=curve.index(least) + 1, annual_amount=cents(least), curve=tuple(cents(cost) for cost in curve)
    )


def _years(count: int) -> str:
    return ngettext("%(number)s year", "%(number)s years", count)
