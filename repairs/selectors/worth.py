"""Is it worth it? The pure rule, fed from the rows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, NamedTuple

from django.db.models import Count, QuerySet, Sum
from django.utils import timezone
from django.utils.translation import gettext

from core.money import cents
from inventory.catalog.figures import BENCH_RATE
from inventory.catalog.load import catalog
from inventory.catalog.schema import MISSING_PART, FaultWay, RoleTag, Severity
from inventory.models import Closed, Finding, Instrument, Whereabouts
from inventory.rules.standing import Standing
from inventory.rules.value import Value, ValueFacts, age_on, middle_life, value_of
from inventory.selectors.figures import value_on
from inventory.selectors.prices import replacement_amount
from inventory.selectors.standing import standing_of
from repairs.models import Attempt, Job, PartsInstrument, ShopOrder
from repairs.models.order_money import BILL_TO_COME
from repairs.rules.facts import Outcome
from repairs.rules.matched import missing_spots, still_there, takeable
from repairs.rules.plan import Plan
from repairs.rules.worth import Worth, WorthFacts, judge_worth
from repairs.selectors.planning import PROVING, plan_for_instrument
from repairs.selectors.standard_cost import standard_cost

A_YEAR = timedelta(days=365)
MONTH_DAYS = 30.44
DONE = (Outcome.DONE, Outcome.FREED, Outcome.NOT_RIGHT)


@dataclass(frozen=True, slots=True)
class Spent:
    """What repairs have cost: bench time, parts and shops' bills."""

    minutes: Decimal
    estimated_minutes: Decimal  # of those: as planned, because nobody timed them
    bench_amount: Decimal
    parts_amount: Decimal
    shop_amount: Decimal
    bills_to_come: int  # of shops that sent it back

    @property
    def amount(self) -> Decimal:
        return cents(self.bench_amount + self.parts_amount + self.shop_amount)


@dataclass(frozen=True, slots=True)
class SoundParts:
    """What its sound parts are worth to a bench: how many are sound of how many it would have."""

    amount: Decimal
    sound: int
    total: int


@dataclass(frozen=True, slots=True)
class WorthAnswer:
    """The answer with everything it depends on."""

    worth: Worth
    value: Value
    facts: WorthFacts
    plan: Plan
    job: Job | None
    others_free: int  # of the kind, at the school
    spent: Spent
    parts: SoundParts

    @property
    def is_sound(self) -> bool:
        """Whether nothing needs fixing: no step but its play test, nothing for a shop."""
        return not self.plan.send_out and all(step.method == PROVING for step in self.plan.steps)


def age_of(instrument: Instrument, *, today: date) -> int | None:
    """Return the years since it was made, or since it came if that is all one knows."""
    return age_on(year_made=instrument.year_made, acquired_on=instrument.acquired_on, day=today)


def life_of(instrument: Instrument) -> Decimal:
    """Return the middle of the life that its kind has in school use."""
    return middle_life(instrument.kind.life_years)


def value_facts(instrument: Instrument, *, today: date, repair_amount: Decimal = Decimal(0)) -> ValueFacts:
    """Return what the value of an instrument depends on."""
    settings = catalog().settings
    return ValueFacts(
        replacement_amount=replacement_amount(instrument),
        age_years=age_of(instrument, today=today),
        life_years=life_of(instrument),
        residual_share=settings["residual_share"],
        playing_share=settings["playing_value_share"],
        repair_amount=repair_amount,
    )


def worth_of(instrument: Instrument, *, is_student_waiting: bool, now: datetime, today: date) -> WorthAnswer:
    """Return whether it is worth it today, by its open job or by a plan of its school's bench.

    Its value as it is takes off what the repair costs at a usual bench, as the value of the fleet does.
    """
    job = Job.objects.open().filter(instrument=instrument).select_related("instrument__school", "bench").first()
    standing = standing_of(instrument)
    plan = plan_for_instrument(instrument, standing=standing, job=job)
    settings = catalog().settings
    usual = standard_cost(instrument.kind_code, instrument.options, standing.findings, trade=standing.catalog)
    value = value_of(value_facts(instrument, today=today, repair_amount=usual))
    as_is_words = gettext("%(value)s at a usual bench") % {"value": value.as_is_words}
    spent = spent_since(instrument, since=now - A_YEAR)
    parts = parts_value(instrument, standing)
    others = free_others(instrument, today=today)
    rotted, casings = _spoiled(standing)
    facts = WorthFacts(
        repair_limit=instrument.kind.repair_limit,
        replacement_amount=replacement_amount(instrument),
        value_amount=value.playing_amount,
        value_words=_value_words(value, instrument),
        life_years=round(life_of(instrument)),
        years_left=max(instrument.kind.life_years[1] - value.age_years, int(settings["repaired_years_least"])),
        upkeep_amount=instrument.kind.upkeep,
        cost=plan.taken.total_cost,
        here_mean=plan.taken.cost.mean,
        outside_mean=plan.taken.outside_cost.mean,
        is_doable_here=not plan.send_out,
        is_for_shop=bool(plan.send_out) and all(one.method for one in plan.send_out),
        parts_value_amount=parts.amount,
        spent_this_year_amount=spent.amount,
        same_part_repairs_before=same_part_repairs(instrument, standing, since=now - timedelta(days=_same_part_days())),
        has_cracked_casing=bool(casings),
        has_matching_casing=bool(casings) and has_casing_in_hand(instrument),
        rotted_tubes=rotted,
        is_student_waiting=is_student_waiting,
        is_other_free=others > 0,
    )
    return WorthAnswer(
        worth=judge_worth(facts, settings=settings),
        value=replace(value, as_is_words=as_is_words),
        facts=facts,
        plan=plan,
        job=job,
        others_free=others,
        spent=spent,
        parts=parts,
    )


def _value_words(value: Value, instrument: Instrument) -> str:
    if instrument.replacement_amount is not None:
        return value.words
    return gettext("%(value)s; the price of a new one is the middle of its kind's") % {"value": value.words}


def _same_part_days() -> float:
    return float(catalog().settings["same_part_months"]) * MONTH_DAYS


def _spoiled(standing: Standing) -> tuple[int, int]:
    """Return how many tubes are rotted through and how many casings are cracked."""
    trade = standing.catalog
    rotted, casings = set(), set()
    for fact in standing.findings:
        if fact.fault not in trade.faults:
            continue
        role, ways = trade.roles[standing.kind.part(fact.part).role], trade.faults[fact.fault].ways
        if FaultWay.ROTS in ways and fact.severity is Severity.SEVERE and RoleTag.TUBE in role.tags:
            rotted.add((fact.part, fact.place))
        if FaultWay.CRACKS in ways and role.code == "casing":
            casings.add((fact.part, fact.place))
    return len(rotted), len(casings)


def has_casing_in_hand(instrument: Instrument) -> bool:
    """Whether a parts instrument of the same maker and model still has its casing. One query."""
    if not instrument.maker:
        return False
    instruments = PartsInstrument.objects.there().filter(
        instrument__kind_code=instrument.kind_code,
        instrument__maker__iexact=instrument.maker,
        instrument__model__iexact=instrument.model,
    )
    bare = Finding.objects.standing().filter(part__contains="casing", fault=MISSING_PART).values("instrument")
    return instruments.exclude(instrument=instrument.pk).exclude(instrument__in=bare).exists()


def spent_since(instrument: Instrument, *, since: datetime) -> Spent:
    """Return what its repairs have cost since then. Two queries."""
    return _spent(
        Attempt.objects.filter(job__instrument=instrument, ended_at__gte=since),
        ShopOrder.objects.filter(instrument=instrument, returned_at__gte=since),
    )


def spent_on(job: Job) -> Spent:
    """Return what a closed job has cost, with the bills of shops that its instrument was at meanwhile. Two queries."""
    meanwhile = (job.opened_at, job.closed_at)
    return _spent(
        Attempt.objects.filter(job=job),
        ShopOrder.objects.filter(instrument=job.instrument_id, returned_at__range=meanwhile),
    )


def spent_in(job: Job) -> Spent:
    """Return what an open job has cost at the bench so far. One query."""
    return _spent(Attempt.objects.filter(job=job), ShopOrder.objects.none())


def _spent(attempts: QuerySet[Attempt], orders: QuerySet[ShopOrder]) -> Spent:
    """Add up attempts, and orders that came back."""
    took = _costs(attempts)
    bills = orders.aggregate(sum=Sum("invoice_amount"), to_come=Count("pk", filter=BILL_TO_COME))
    return Spent(
        minutes=sum((one.timed + one.planned for one in took), Decimal(0)),
        estimated_minutes=sum((one.planned for one in took), Decimal(0)),
        bench_amount=sum((one.bench_amount for one in took), Decimal(0)),
        parts_amount=sum((one.parts_amount for one in took), Decimal(0)),
        shop_amount=bills["sum"] or Decimal(0),
        bills_to_come=bills["to_come"],
    )


class AttemptCost(NamedTuple):
    """What one attempt took, and the keys of the findings it was for."""

    job: int
    findings: tuple[int, ...]
    timed: Decimal
    planned: Decimal  # minutes that nobody timed
    bench_amount: Decimal
    parts_amount: Decimal


def costs_in(jobs: Collection[int]) -> list[AttemptCost]:
    """Return what each attempt of these jobs cost. One query."""
    return _costs(Attempt.objects.filter(job__in=jobs))


def _costs(attempts: QuerySet[Attempt]) -> list[AttemptCost]:
    columns = (
        "job_id",
        "findings",
        "minutes",
        "estimated_minutes",
        "parts_amount",
        "job__bench__rate_amount",
        "ended_at",
    )
    costs = []
    for job, findings, timed, planned, parts, own_rate, ended_at in attempts.values_list(*columns):
        rate = Decimal(value_on(BENCH_RATE, timezone.localdate(ended_at))) if own_rate is None else own_rate
        minutes = timed or Decimal(0), planned or Decimal(0)
        costs.append(AttemptCost(job, tuple(findings), *minutes, sum(minutes) * rate / 60, parts))
    return costs


def same_part_repairs(instrument: Instrument, standing: Standing, *, since: datetime) -> int:
    """Return how many jobs and shops since then worked on the part worked on most that is at fault again.

    Two queries.
    """
    faulty = {fact.part for fact in standing.findings}
    rows = Attempt.objects.filter(
        job__instrument=instrument, job__closed_at__isnull=False, ended_at__gte=since, outcome__in=DONE
    )
    shops = Finding.objects.filter(
        instrument=instrument, part__in=faulty, closed_because=Closed.REPAIRED, closed_at__gte=since,
        closed_reference__startswith="order:",
    )  # fmt: skip
    worked: set[tuple[Any, ...]] = set(rows.filter(part__in=faulty).values_list("part", "job"))
    worked.update(shops.values_list("part", "closed_reference"))
    return max(Counter(part for part, _ in worked).values(), default=0)


def parts_value(instrument: Instrument, standing: Standing) -> SoundParts:
    """Return what its sound parts are worth to a bench."""
    trade = standing.catalog
    everything = takeable(standing.kind.parts, roles=trade.roles)
    severe = {(fact.part, fact.place) for fact in standing.findings if fact.severity is Severity.SEVERE}
    sound = still_there(everything, missing=severe | missing_spots(standing.findings))
    share = Decimal(len(sound)) / len(everything) if everything else Decimal(0)
    amount = cents(replacement_amount(instrument) * trade.settings["parts_value_share"] * share)
    return SoundParts(amount=amount, sound=len(sound), total=len(everything))


def free_others(instrument: Instrument, *, today: date) -> int:
    """Return how many others of the kind at its school could go out today. One query."""
    rows = Instrument.objects.filter(
        school=instrument.school_id, kind_code=instrument.kind_code, whereabouts=Whereabouts.IN_STORE
    )
    return rows.ready(today=today).exclude(pk=instrument.pk).count()
