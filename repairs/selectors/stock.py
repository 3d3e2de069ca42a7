"""What a bench has in stock, what the plans of its open jobs will use, and what to buy."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from functools import lru_cache

from django.db.models import Count, F, Max, Q
from django.db.models.functions import Coalesce

from core.money import cents
from inventory.catalog.load import catalog
from inventory.catalog.schema import Catalog
from repairs.models import Bench, Job, StockItem, StockMove
from repairs.rules.facts import Outcome
from repairs.rules.shopping import Held, Need, ShoppingList, lacking, reserved, shopping_list
from repairs.selectors.decisions import stopped_jobs
from repairs.selectors.planning import JobState, job_states

MOST_JOBS = 60  # whose plans are looked at for one page
FITTED = ("each", "set", "pair", "length", "piece", "")  # units of things that fit or do not; a bottle fits everything


def known_codes() -> Mapping[str, Held]:
    """Return what a bench may keep by its code: every consumable, and every part that a method names without one."""
    return _known_in(catalog())


@lru_cache(maxsize=2)
def _known_in(trade: Catalog) -> Mapping[str, Held]:
    things = {
        code: Held(code, one.name, one.unit, each_amount=cents(one.middle), is_kept=False)
        for code, one in trade.consumables.items()
    }
    for method in trade.methods.values():
        for need in method.parts:
            if need.code not in things and need.quantity:
                each = cents(need.middle / need.quantity)
                name = need.code.replace("_", " ")
                things[need.code] = Held(need.code, name, "each", each_amount=each, is_kept=False)
    return things


def next_jobs(bench: Bench, *, limit: int = MOST_JOBS) -> list[Job]:
    """Return the open jobs of a bench in the order of its list: first due first."""
    rows = Job.objects.open().filter(bench=bench).for_table()
    return list(rows.first_due()[:limit])


def needs_of(jobs: Sequence[Job]) -> list[Need]:
    """Return what the steps still to do in these jobs will use up; a job that a refusal stops takes nothing."""
    if not jobs:
        return []
    states = job_states(jobs)
    stopped = stopped_jobs(states)
    return [need for state in states if state.job.pk not in stopped for need in needs_in(state)]


def needs_in(state: JobState) -> list[Need]:
    """Return what the steps still to do in a job will use up."""
    number = state.job.instrument.asset_number
    return [Need(part.code, part.quantity, number) for step in state.plan.steps for part in step.parts]


Lacks = Mapping[int, Sequence[tuple[Held, Decimal]]]  # by the key of a job: how much of what is not there for it


def parts_lacking(states: Sequence[JobState]) -> Lacks:
    """Return what jobs lack when each takes its parts before the next; the jobs in the order of the work. One query.

    Each bench has its own stock. What is there for a job is not among the keys.
    """
    of_bench: dict[int, list[JobState]] = defaultdict(list)
    for state in states:
        of_bench[state.job.bench_id].append(state)
    return _lacking(states, groups=list(of_bench.values()))


def parts_out_of_stock(states: Sequence[JobState]) -> Lacks:
    """Return what jobs lack though no other took anything before them. One query."""
    return _lacking(states, groups=[[state] for state in states])


def _lacking(states: Sequence[JobState], *, groups: Iterable[Sequence[JobState]]) -> Lacks:
    """The jobs of a group, which are of one bench, share what is in stock there."""
    needs = {state.job.pk: needs_in(state) for state in states}
    codes = {need.code for found in needs.values() for need in found}
    on_hand: dict[int, dict[str, Decimal]] = defaultdict(dict)
    kept = StockItem.objects.filter(bench__in={state.job.bench_id for state in states}, code__in=codes).in_use()
    for bench, code, quantity in kept.values_list("bench", "code", "quantity"):
        on_hand[bench][code] = quantity
    things = known_codes()
    lacks: dict[int, list[tuple[Held, Decimal]]] = {}
    for group in groups:
        stock = on_hand[group[0].job.bench_id]
        answers = lacking([needs[state.job.pk] for state in group], on_hand=stock)
        for state, found in zip(group, answers, strict=True):
            if found:
                lacks[state.job.pk] = [(things[code], much) for code, much in found.items()]
    return lacks


@dataclass(frozen=True, slots=True)
class StockLine:
    item: StockItem
    reserved: Decimal

    @property
    def state(self) -> str:
        """Return "count" for a book below nothing, "short" for plans that need more, "low" under the level, or ""."""
        if self.item.quantity < 0:
            return "count"
        if self.reserved > self.item.quantity:
            return "short"
        return "low" if self.item.quantity < self.item.reorder_level else ""


ORDER = ("count", "short", "low", "")


def stock_lines(bench: Bench) -> list[StockLine]:
    """Return every item with what is reserved of it, what needs somebody first. Seven queries."""
    sums = reserved(needs_of(next_jobs(bench)))
    lines = [
        StockLine(item=item, reserved=sums.get(item.code, Decimal(0)) if item.code else Decimal(0))
        for item in StockItem.objects.filter(bench=bench).in_use()
    ]
    return sorted(lines, key=lambda line: (ORDER.index(line.state), str(line.item).lower(), line.item.pk))


@dataclass(frozen=True, slots=True)
class Shopping:
    """The list with the jobs it is for and the moment it was made."""

    bench: Bench
    jobs: tuple[Job, ...]
    list: ShoppingList
    at: datetime


def shopping_for(bench: Bench, *, jobs: int, at: datetime) -> Shopping:
    """Return what to buy for the next so many jobs of a bench. Seven queries."""
    chosen = next_jobs(bench, limit=max(0, min(jobs, MOST_JOBS)))
    needs = needs_of(chosen)
    held = [
        Held(
            key=item.code or f"item:{item.pk}",
            name=f"{item} ({item.fits})" if item.fits else str(item),
            unit=item.shown_unit,
            each_amount=item.each_amount,
            on_hand=item.quantity,
            reorder_level=item.reorder_level,
            supplier=item.supplier,
            part_number=item.part_number,
        )
        for item in StockItem.objects.filter(bench=bench).in_use()
    ]
    held += [known_codes()[code] for code in {need.code for need in needs} - {one.key for one in held}]
    return Shopping(bench=bench, jobs=tuple(chosen), list=shopping_list(needs=needs, held=held), at=at)


@dataclass(frozen=True, slots=True)
class Fit:
    """How often something went onto one maker's model, and how that ended."""

    maker: str
    model: str
    good: int
    bad: int
    last_at: datetime


def same_item(item: StockItem, *, bench: Bench) -> StockItem | None:
    """Return what another bench keeps of the same: by its code, or by name and what it fits, in any case."""
    if item.code:
        return StockItem.objects.filter(bench=bench, code=item.code).first()
    same = {f"{name}__iexact": getattr(item, name) for name in ("name", "fits_maker", "fits_model")}
    return StockItem.objects.filter(bench=bench, code="", **same).first()


def last_price(item: StockItem, *, receipts: Iterable[StockMove]) -> Decimal | None:
    """Return the price of one by the first receipt that says one since it was typed, else as typed."""
    prices = (move.each_amount for move in receipts if move.pk > item.typed_after)
    return next((each for each in prices if each is not None), item.typed_amount)


def fits_of(item: StockItem) -> list[Fit]:
    """Return what the shop has learned of where an item fits: its uses by maker and model. One query.

    What comes by the bottle fits everything and teaches nothing.
    """
    if item.unit not in FITTED and not item.unit.startswith("pack"):
        return []
    good = Q(attempt__outcome__in=[Outcome.DONE, Outcome.FREED])
    bad = Q(attempt__outcome__in=[Outcome.NOT_RIGHT, Outcome.DAMAGED])
    rows = (
        StockMove.objects.filter(item__name=item.name, item__code=item.code, why=StockMove.Why.USED, reversed_by=None)
        .exclude(attempt=None)
        .values("attempt__job__instrument__maker", "attempt__job__instrument__model")
        .annotate(good=Count("pk", filter=good), bad=Count("pk", filter=bad), last=Max("at"))
        .order_by("-good", "attempt__job__instrument__maker", "attempt__job__instrument__model")
    )
    return [
        Fit(
            maker=row["attempt__job__instrument__maker"],
            model=row["attempt__job__instrument__model"],
            good=row["good"],
            bad=row["bad"],
            last_at=row["last"],
        )
        for row in rows
        if row["attempt__job__instrument__maker"] or row["attempt__job__instrument__model"]
    ]


def stock_differences() -> Iterator[str]:
    """Yield a sentence for each quantity that is no sum of moves, price nobody said, and move without its other."""
    sums: dict[int, Decimal] = defaultdict(Decimal)
    for pk, quantity in StockMove.objects.values_list("item_id", "quantity"):
        sums[pk] += quantity
    receipts: dict[int, list[StockMove]] = defaultdict(list)
    for move in StockMove.objects.that_say_a_price():
        receipts[move.item_id].append(move)
    for item in StockItem.objects.select_related("bench"):
        if item.quantity != sums[item.pk]:
            yield f"{item.bench.code}: {item.name} is {item.quantity}, its moves add up to {sums[item.pk]}"
        if item.price_amount != (stated := last_price(item, receipts=receipts[item.pk])):
            yield f"{item.bench.code}: {item.name} costs {item.price_amount}, what was said last is {stated}"
    pairs = StockMove.objects.annotate(other=Coalesce("reverses__quantity", "moved_from__quantity"))
    wrong = pairs.filter(other__isnull=False).exclude(quantity=-F("other")).values_list("pk", "quantity", "other")
    yield from (f"stock move {pk} is {quantity}, the one it answers is {other}" for pk, quantity, other in wrong)
    outs = StockMove.objects.filter(why=StockMove.Why.MOVED, moved_from=None, moved_to=None)
    yield from (f"stock move {pk} came out on no bench" for pk in outs.values_list("pk", flat=True))


def free_parts_for(job: Job) -> list[StockItem]:
    """Parts outside the catalog at the job's bench: those that fit this instrument first, what is used up last."""
    instrument = job.instrument
    maker, model = instrument.maker.casefold(), instrument.model.casefold()
    items = StockItem.objects.filter(bench=job.bench_id, code="").in_use().select_related("bench")

    def strangeness(item: StockItem) -> tuple[bool, bool, bool, str, int]:
        fits_maker = bool(maker) and item.fits_maker.casefold() == maker
        fits_model = fits_maker and bool(model) and item.fits_model.casefold() == model
        return item.quantity <= 0, not fits_model, not fits_maker, item.name.casefold(), item.pk

    return sorted(items, key=strangeness)
