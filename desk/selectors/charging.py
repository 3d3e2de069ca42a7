"""What a family may be charged for what came back worse, with everything it hangs on."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from functools import cached_property
from typing import Any

from django.db.models import Q, QuerySet
from django.utils import timezone

from core.money import cents
from inventory.catalog.load import catalog
from inventory.catalog.load.language import catalog_word
from inventory.models import Closed, Finding, Instrument, Photo
from inventory.rules.facts import FindingFact
from inventory.rules.value import Value, ValueFacts, value_of
from inventory.selectors.standing import standing_of
from loans.models import LedgerEntry, Loan
from loans.rules.charging import Cap, Ruling, months_out, ruling_of, share_of
from loans.rules.compare import Compared, accessories_short
from loans.rules.ledger import Sort
from loans.selectors.comparing import compare_inspections, handed_out_with
from loans.selectors.lending import first_term
from loans.selectors.losses import charged_for
from repairs.models import Job, ShopOrder
from repairs.selectors.planning import Learned, learned, plan_for_instrument
from repairs.selectors.worth import costs_in, value_facts

ACCESSORY = "accessory"
NOTHING = Decimal(0)


class Basis(StrEnum):
    """Where a cost comes from, the surest first."""

    JOB = "job"
    INVOICE = "invoice"
    ESTIMATE = "estimate"
    PLAN = "plan"
    TYPED = "typed"  # what a repair costs that the plan has no price for
    PRICE = "price"  # of a new accessory, as it was typed


@dataclass(frozen=True, slots=True)
class Cost:
    """A cost and the share of it that is for what is charged. ``number`` is the job's or the order's."""

    basis: Basis
    number: int | None
    whole: Decimal
    amount: Decimal
    what: tuple[str, ...]  # keys of what is charged that it is for


@dataclass(frozen=True, slots=True)
class Changed:
    """Something new or worse at return. ``key`` names it in a form and in the ledger."""

    key: str
    row: Compared
    ruling: Ruling
    is_charged: bool  # by an entry that stands


@dataclass(frozen=True, slots=True)
class Short:
    """An accessory that did not come back."""

    key: str
    code: str
    name: str  # as it was stored
    count: int
    is_charged: bool

    def __str__(self) -> str:
        return catalog_word(self.name)


@dataclass(frozen=True)
class Returned:
    """A loan that came back, held against how it went out."""

    loan: Loan
    first: Loan  # of the terms it was renewed for: how it went out is how it went out then
    months: int  # since then
    changes: tuple[Changed, ...]
    short: tuple[Short, ...]
    entries: tuple[LedgerEntry, ...]  # charges for it that stand
    charged: Decimal  # by them, less what was taken off once it was found

    @cached_property
    def offered(self) -> dict[str, Changed | Short]:
        """What may be charged: wear never, nothing twice."""
        changes = {one.key: one for one in self.changes if one.ruling is not Ruling.WEAR}
        both: dict[str, Changed | Short] = {**changes, **{one.key: one for one in self.short}}
        return {key: one for key, one in both.items() if not one.is_charged}

    @property
    def proposed(self) -> tuple[str, ...]:
        """What is damage beyond doubt; the rest somebody chooses."""
        return tuple(
            key for key, one in self.offered.items() if isinstance(one, Changed) and one.ruling is Ruling.DAMAGE
        )


@dataclass(frozen=True, slots=True)
class Charge:
    """What the chosen things may be charged for, and how that came about."""

    chosen: tuple[str, ...]
    costs: tuple[Cost, ...]
    unpriced: tuple[str, ...]  # keys of what nothing says a price for yet
    as_lent_amount: Decimal  # of the repair that the same faults would have needed when it went out
    facts: ValueFacts
    value: Value
    cap: Cap

    def as_json(self, returned: Returned) -> dict[str, Any]:
        """Return what the ledger keeps of it: codes and amounts."""
        rows = {one.key: one for one in returned.changes}
        return {
            "keys": list(self.chosen),
            "months": returned.months,
            "findings": [
                {name: getattr(one.row, name) for name in ("part", "place", "fault", "before", "after")}
                | {"ruling": one.ruling}
                for one in (rows[key] for key in self.chosen if key in rows)
            ],
            "costs": [
                {"basis": one.basis, "number": one.number, "whole": str(one.whole), "amount": str(one.amount)}
                for one in self.costs
            ],
            "as_lent": str(self.as_lent_amount),
            "cost": str(self.cap.cost),
            "value": str(self.cap.value),
            "value_words": f"{self.value.words}; {self.value.as_is_words}",
            "charged_before": str(self.cap.charged),
            "most": str(self.cap.amount),
        }


def key_of(part: str, place: str, fault: str) -> str:
    return f"{part}/{place}/{fault}"


def returned_loan(loan: Loan) -> Returned:
    """Return what changed while it was out and what was charged for it. The loan has come back."""
    entries = tuple(charges_for(loan))
    charged = {key for entry in entries for key in entry.reckoning.get("keys", ())}
    first = first_term(loan)
    months = months_out(lent_on=first.lent_on, back_on=back_on(loan))
    step = int(catalog().settings["wear_step_months"])
    slips = Finding.objects.filter(inspection=loan.taken_back_id, closed_because=Closed.WITHDRAWN)
    withdrawn = {key_of(*codes) for codes in slips.values_list("part", "place", "fault")}
    changes = []
    for row in compare_inspections(loan=loan, taken_back=loan.taken_back):
        ruling, key = ruling_of(row, months=months, step_months=step), key_of(row.part, row.place, row.fault)
        if ruling is not None and key not in withdrawn:
            changes.append(Changed(key, row, ruling, key in charged))
    handed = {row["code"]: int(row["count"]) for row in loan.accessories}
    names = {row["code"]: row["name"] for row in loan.accessories}
    back = {row["code"]: int(row["count"]) for row in loan.accessories_back}
    short = [
        Short(f"{ACCESSORY}/{code}", code, names[code], count, f"{ACCESSORY}/{code}" in charged)
        for code, count in accessories_short(handed, back).items()
    ]
    return Returned(loan, first, months, tuple(changes), tuple(short), entries, charged_for(loan))


def charges_for(loan: Loan) -> QuerySet[LedgerEntry]:
    """Return the charges for damage or loss of this loan that stand."""
    return LedgerEntry.objects.standing().filter(loan=loan, sort__in=(Sort.DAMAGE, Sort.LOSS)).order_by("pk")


def back_on(loan: Loan) -> date:
    """Return the day it came back."""
    if loan.returned_at is None:
        raise ValueError(f"{loan} has not come back")
    return timezone.localdate(loan.returned_at)


def value_of_lent(loan: Loan, *, on: date, findings: Sequence[FindingFact] | None = None) -> Value:
    """Return what a lent instrument was worth on a day: straight line from the price agreed, less the repair it needed.

    ``findings`` are what it had then; without them, what it went out with.
    """
    return value_of(facts_of_lent(loan, on=on, findings=findings))


def facts_of_lent(loan: Loan, *, on: date, findings: Sequence[FindingFact] | None = None) -> ValueFacts:
    """Return what its value hangs on, as ``value_of_lent`` takes it."""
    repair = repair_amount(loan.instrument, handed_out_with(loan) if findings is None else findings)
    facts = value_facts(loan.instrument, today=on, repair_amount=repair)
    agreed = loan.replacement_amount
    return facts if agreed is None else replace(facts, replacement_amount=agreed)


def repair_amount(
    instrument: Instrument,
    findings: Sequence[FindingFact],
    *,
    taught: Learned | None = None,
    is_looks_included: bool = False,
) -> Decimal:
    """Return what the repair of these findings would cost today, as likely more as less, parts and shops included.

    To playing condition, or with ``is_looks_included`` what only looks bad too. Cleaning and the play test are left out: they
    are due after each loan.
    """
    kind = instrument.kind
    known = taught or learned()

    def cost(facts: Iterable[FindingFact]) -> float:
        held = tuple(fact for fact in facts if kind.has(fact.part, fact.place))
        standing = standing_of(instrument, findings=held, is_inspected=True)
        plan = plan_for_instrument(instrument, standing=standing, taught=known, is_looks_included=is_looks_included)
        return plan.taken.total_cost.p50

    return max(NOTHING, cents(cost(findings) - cost(()))) if findings else NOTHING


def charge_of(returned: Returned, *, chosen: Collection[str], prices: Mapping[str, Decimal] | None = None) -> Charge:
    """Return what may be charged for what is chosen (keys of ``Returned.offered``).

    ``prices`` are what was typed, by key: for a new one of each missing accessory, and for the repair of what the plan has none
    for. Repairs that are done count with what they cost, the others with a shop's estimate or the plan's, looks included.
    """
    loan, taught = returned.loan, learned()
    keys = [one.key for one in returned.changes if one.key in chosen]
    repairs = _Repairs(loan, keys, taught=taught)
    rows = {one.key: one.row for one in returned.changes}
    as_lent = [_fact(rows[key], rows[key].before) for key in keys if rows[key].before is not None]
    typed = prices or {}
    new = {one.key: typed.get(one.key, NOTHING) for one in returned.short if one.key in chosen}
    of_repairs, unpriced = repairs.costs(typed)
    costs = [*of_repairs, *(Cost(Basis.PRICE, None, price, price, (key,)) for key, price in new.items())]
    before = repair_amount(loan.instrument, as_lent, taught=taught, is_looks_included=True)
    facts = facts_of_lent(loan, on=back_on(loan), findings=_but_for_damage(returned, repairs.found))
    value = value_of(facts)
    repair = sum((one.amount for one in of_repairs), NOTHING)
    cost = max(NOTHING, repair - before) + sum(new.values(), NOTHING)
    return Charge(
        chosen=(*keys, *new),
        costs=tuple(costs),
        unpriced=unpriced,
        as_lent_amount=before,
        facts=facts,
        value=value,
        cap=Cap(cost=cost, value=value.as_is_amount, charged=returned.charged),
    )


def _but_for_damage(returned: Returned, found: Iterable[FindingFact]) -> list[FindingFact]:
    """Return what it would have come back with, had there been only wear."""
    harmed = {one.key: one.row for one in returned.changes if one.ruling is not Ruling.WEAR}
    spared = [fact for fact in found if key_of(fact.part, fact.place, fact.fault) not in harmed]
    return spared + [_fact(row, row.before) for row in harmed.values() if row.before is not None]


def _fact(row: Compared, severity: Any) -> FindingFact:
    return FindingFact(part=row.part, place=row.place, fault=row.fault, severity=severity)


class _Repairs:
    """What the repair of the chosen findings cost or will cost, before the instrument went out again."""

    def __init__(self, loan: Loan, keys: Sequence[str], *, taught: Learned) -> None:
        self.loan, self.keys, self.taught = loan, keys, taught
        rows = list(_findings_since(loan))
        self.found = [row.fact for row in rows if row.inspection_id == loan.taken_back_id]
        self.rows = {row.pk: row for row in rows}
        self.key_by_id = {row.pk: key_of(row.part, row.place, row.fault) for row in rows}
        self.mine = {pk for pk, key in self.key_by_id.items() if key in keys}

    @cached_property
    def done(self) -> set[str]:
        """The keys of what has been repaired since: a job that was given up leaves the rest to be estimated."""
        return set(self.keys) - {self.key_by_id[pk] for pk in self.mine if self.rows[pk].closed_at is None}

    def costs(self, typed: Mapping[str, Decimal]) -> tuple[list[Cost], tuple[str, ...]]:
        """Return the costs, and the keys of what neither bill, estimate nor plan has a price for and nobody typed one."""
        costs = [*self._of_jobs(), *self._of_orders()]
        costs += self._of_estimates(self._without(costs))
        rest = self._without(costs)
        planned = [key for key in rest if self._planned([key])]
        costs += [
            Cost(Basis.TYPED, None, typed[key], typed[key], (key,))
            for key in rest
            if key in typed.keys() - set(planned)
        ]
        if planned:
            amount = self._planned(planned)
            costs.append(Cost(Basis.PLAN, None, amount, amount, tuple(planned)))
        return costs, tuple(self._without(costs))

    def _without(self, costs: Iterable[Cost]) -> list[str]:
        known = {key for one in costs for key in one.what}
        return [key for key in self.keys if key not in known]

    def _planned(self, keys: Collection[str]) -> Decimal:
        return self._weight([pk for pk, key in self.key_by_id.items() if key in keys])

    def _of_jobs(self) -> list[Cost]:
        jobs = Job.objects.filter(instrument=self.loan.instrument_id, closed_at__gte=self.loan.returned_at)
        costs: dict[int, list[tuple[Decimal, Decimal, frozenset[str]]]] = {}
        for one in costs_in(list(jobs.values_list("pk", flat=True))):
            what = self._keys_of(one.findings) & self.done
            if what:
                whole = one.bench_amount + one.parts_amount
                costs.setdefault(one.job, []).append((whole, self._share(whole, one.findings), what))
        return [
            Cost(
                Basis.JOB,
                job,
                cents(sum((whole for whole, _, _ in parts), NOTHING)),
                cents(sum((mine for _, mine, _ in parts), NOTHING)),
                tuple(sorted(frozenset[str]().union(*(what for _, _, what in parts)))),
            )
            for job, parts in sorted(costs.items())
        ]

    def _of_orders(self) -> list[Cost]:
        rows = self._orders().filter(returned_at__isnull=False, invoice_amount__isnull=False)
        return [
            Cost(Basis.INVOICE, row.pk, row.invoice_amount, self._share(row.invoice_amount, row.findings), tuple(what))
            for row in rows
            if row.invoice_amount is not None and (what := sorted(self._keys_of(row.findings)))
        ]

    def _of_estimates(self, keys: Collection[str]) -> list[Cost]:
        rows = self._orders().open().filter(estimate_amount__isnull=False, refused_at=None)
        costs = []
        for row in rows:
            what = sorted(self._keys_of(row.findings).intersection(keys))
            if what and row.estimate_amount is not None:
                amount = self._share(row.estimate_amount, row.findings)
                costs.append(Cost(Basis.ESTIMATE, row.pk, row.estimate_amount, amount, tuple(what)))
        return costs

    def _orders(self) -> Any:
        rows = ShopOrder.objects.filter(instrument=self.loan.instrument_id, asked_at__gte=self.loan.returned_at)
        return rows.order_by("pk")

    def _keys_of(self, findings: Iterable[int]) -> frozenset[str]:
        return frozenset(self.key_by_id[pk] for pk in findings if pk in self.mine)

    def _share(self, amount: Decimal, findings: Sequence[int]) -> Decimal:
        """Return what of a bill is for the chosen ones of its findings."""
        mine = self.mine.intersection(findings)
        if len(mine) == len(set(findings)):
            return amount
        others = Finding.objects.filter(pk__in=[pk for pk in findings if pk not in self.rows]).in_bulk()
        rows = {pk: row for pk in findings if (row := self.rows.get(pk) or others.get(pk))}
        return share_of(amount, weights={pk: self._weight([pk], rows) for pk in rows}, chosen=mine)

    def _weight(self, keys: Sequence[int], rows: Mapping[int, Finding] | None = None) -> Decimal:
        known = self.rows if rows is None else rows
        latest = {(known[pk].part, known[pk].place, known[pk].fault): known[pk].fact for pk in keys}
        return repair_amount(self.loan.instrument, [*latest.values()], taught=self.taught, is_looks_included=True)


def _findings_since(loan: Loan) -> QuerySet[Finding]:
    """Return what was found at the return and after it, until the instrument went out again."""
    rows = Finding.objects.filter(instrument=loan.instrument_id, inspection__finished_at__isnull=False)
    rows = rows.filter(Q(inspection=loan.taken_back_id) | Q(found_at__gt=loan.returned_at))
    out_again = lent_again_at(loan)
    return rows if out_again is None else rows.filter(found_at__lt=out_again)


def lent_again_at(loan: Loan) -> datetime | None:
    later = Loan.objects.not_undone().filter(instrument=loan.instrument_id, lent_at__gt=loan.lent_at)
    return later.exclude(pk=loan.pk).order_by("lent_at").values_list("lent_at", flat=True).first()


def photos_of(returned: Returned) -> tuple[dict[str, Photo], dict[str, Photo]]:
    """Return the latest photo of each part from before it went out, and from after it came back; "" is of the whole.

    Two queries.
    """
    loan = returned.loan
    rows = Photo.objects.filter(instrument=loan.instrument_id).order_by("taken_at", "pk")
    before = rows.filter(
        Q(taken_at__lte=returned.first.lent_at) | Q(inspection=loan.hand_out_id, inspection__isnull=False)
    )
    back = loan.taken_back
    after = rows.filter(taken_at__gte=back.started_at) if back else rows.none()
    out_again = lent_again_at(loan)
    if out_again is not None:
        after = after.filter(taken_at__lt=out_again)
    return {one.part: one for one in before}, {one.part: one for one in after}
