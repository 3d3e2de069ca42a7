"""What a sample is drawn from, what the register says of each instrument drawn, and what examining them has shown."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property
from typing import Any

from django.db.models import Count, Q

from inventory.catalog.load import catalog
from inventory.models import DEVIATING, Instrument, InstrumentQuerySet, Sample, SampleItem, School, Strata
from inventory.rules.sample_frame import WHOLE, ValueBands, cuts_of, frame_hash, strata_in
from inventory.rules.sampling import Draw, Evaluation, draw_sample, evaluate_sample
from inventory.rules.value import middle_price


@dataclass
class Frame:
    """The fleet by stratum: asset number -> key of its row."""

    strata: dict[str, dict[str, int]] = field(default_factory=dict)

    @property
    def counts(self) -> dict[str, int]:
        return {name: len(numbers) for name, numbers in self.strata.items()}

    @property
    def population(self) -> int:
        return sum(self.counts.values())


def fleet_of(school: School | None) -> InstrumentQuerySet:
    """What is on the register of a school, or of the district: all it still holds."""
    rows = Instrument.objects.present().filter(merged_into=None)
    return rows if school is None else rows.filter(school=school)


def frame_of(school: School | None, *, strata: str, cuts: Sequence[Decimal] = ()) -> Frame:
    """Return the frame as it is now. One query."""
    frame, bands = Frame(), ValueBands(tuple(cuts)) if strata == Strata.VALUE else None
    trade = catalog()
    rows = fleet_of(school).order_by("asset_number")
    columns = ("pk", "asset_number", "school__code", "kind_code", "level", "replacement_amount")
    for pk, number, code, kind, level, amount in rows.values_list(*columns).iterator(chunk_size=2000):
        if bands:
            name = bands.of(middle_price(trade.kind(kind).prices, level) if amount is None else amount)
        else:
            name = code if strata == Strata.SCHOOL else WHOLE
        frame.strata.setdefault(name, {})[number] = pk
    return frame


def recorded_of(keys: Iterable[int]) -> dict[int, dict[str, Any]]:
    """Return what the register says of these instruments now, as a sample keeps it. One query."""
    columns = {
        "kind": "kind_code",
        "maker": "maker",
        "model": "model",
        "serial": "serial",
        "school": "school__name",
        "room": "room__name",
        "place": "place",
        "whereabouts": "whereabouts",
        "verdict": "verdict",
    }
    rows = Instrument.objects.filter(pk__in=list(keys)).values_list("pk", *columns.values())
    return {pk: {name: value or "" for name, value in zip(columns, values, strict=True)} for pk, *values in rows}


def stratum_words(strata: str, *, cuts: Sequence[Decimal]) -> dict[str, str]:
    """Return the names of strata in words. One query where they are schools."""
    if strata == Strata.VALUE:
        return ValueBands(tuple(cuts)).labels()
    return dict(School.objects.values_list("code", "name")) if strata == Strata.SCHOOL else {}


@dataclass(frozen=True)
class Progress:
    """How far the fieldwork has come, and what it shows."""

    sample: Sample
    results: Mapping[str, int]  # by result; "": left

    @property
    def left(self) -> int:
        return self.results.get("", 0)

    @property
    def examined(self) -> int:
        return self.sample.size - self.left

    @property
    def deviations(self) -> int:
        return sum(self.results.get(one, 0) for one in DEVIATING)

    @cached_property
    def evaluation(self) -> Evaluation | None:
        """What the whole sample says; None while something is left, or where it was stopped."""
        if self.left or self.sample.stopped_because:
            return None
        return evaluate_sample(
            size=self.sample.size,
            deviations=self.deviations,
            confidence=self.sample.confidence,
            tolerable=self.sample.tolerable_rate,
            population=self.sample.fleet,
        )


def progress_of(sample: Sample) -> Progress:
    """Return how far a sample is. One query."""
    rows = SampleItem.objects.filter(sample=sample).order_by().values_list("result").annotate(count=Count("pk"))
    return Progress(sample, dict(rows))


def with_progress(rows: Any) -> Any:
    """Annotate samples with how many are left and how many deviate."""
    return rows.annotate(
        left=Count("items", filter=Q(items__result="")),
        deviations=Count("items", filter=Q(items__result__in=DEVIATING)),
    )


def by_stratum(items: Iterable[SampleItem], sample: Sample) -> list[dict[str, Any]]:
    """Return a line for each stratum of the frame: how many it has, how many were drawn and examined, and deviate."""
    counts = {name: len(numbers) for name, numbers in strata_in(sample.frame).items()}
    drawn, examined, deviating = Counter[str](), Counter[str](), Counter[str]()
    for item in items:
        drawn[item.stratum] += 1
        examined[item.stratum] += bool(item.result)
        deviating[item.stratum] += item.deviates
    words = stratum_words(sample.strata, cuts=cuts_of(sample.cuts))
    return [
        {
            "stratum": name,
            "name": words.get(name, ""),
            "count": count,
            "drawn": drawn[name],
            "examined": examined[name],
            "deviations": deviating[name],
        }
        for name, count in sorted(counts.items())
    ]


def drawn_again(sample: Sample) -> tuple[Draw, ...]:
    """Return what frame and seed give when they are drawn once more."""
    return draw_sample(seed=sample.seed, size=sample.size, strata=strata_in(sample.frame))


def is_drawn_so(sample: Sample, items: Sequence[SampleItem]) -> bool:
    """Whether the frame has its hash, and drawing again gives just these items in their order."""
    now = [(one.stratum, one.number, one.key) for one in drawn_again(sample)]
    return frame_hash(sample.frame) == sample.frame_sha256 and now == [
        (item.stratum, item.number, item.key) for item in items
    ]


def item_of(sample: Sample, instruments: Iterable[Instrument]) -> SampleItem | None:
    """Return the item of the sample that is one of these instruments, or was merged into one of them."""
    keys = [one.pk for one in instruments]
    rows = SampleItem.objects.filter(sample=sample)
    return rows.filter(Q(instrument__in=keys) | Q(instrument__merged_into__in=keys)).order_by("place").first()


def redraw_line(sample: Sample) -> str:
    """How anybody draws the same sample, of one stratum, with the tools of any Unix."""
    return (
        "cut -f2 FRAME | while read -r n; do printf '%s %s\\n' "
        f"\"$(printf '%s' \"{sample.seed}:$n\" | sha256sum | cut -c1-64)\" \"$n\"; done | sort | head -n {sample.size}"
    )  # fmt: skip
