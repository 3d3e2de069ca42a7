"""The standing of instruments: the only place that feeds rows to the rules."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache

from inventory.catalog.charts import chart_of
from inventory.catalog.load import catalog
from inventory.catalog.schema import Catalog, FaultWay
from inventory.models import Finding, Instrument, PlayTest
from inventory.rules.facts import FindingFact, Owed, read_detail
from inventory.rules.standing import Standing, standing

MAIN_SLIDE = "main_tuning_slide"  # first among the slides of every chart that has it


def standing_of(
    instrument: Instrument,
    *,
    findings: Iterable[FindingFact] | None = None,
    is_inspected: bool | None = None,
    slides: Mapping[int, float] | None = None,
) -> Standing:
    """The standing of one instrument. One query, none where the caller has its standing findings.

    One more where a stuck main slide was not measured and ``slides`` is not given. ``is_inspected`` is taken from the
    instrument's own column where it is not given.
    """
    facts = Finding.objects.filter(instrument=instrument).standing().facts() if findings is None else tuple(findings)
    slides = slides_played({instrument.pk: facts}) if slides is None else slides
    inspected = instrument.inspected_at is not None if is_inspected is None else is_inspected
    return standing_for(
        instrument.kind_code,
        instrument.options,
        findings=facts,
        is_inspected=inspected,
        owed=instrument.owed,
        slide_mm=slides.get(instrument.pk),
    )


def standings_of(instruments: Iterable[Instrument]) -> dict[int, Standing]:
    """The standing of each, by primary key. One query for all of them, one more where a main slide was not measured."""
    rows = list(instruments)
    facts = standing_facts(row.pk for row in rows)
    slides = slides_played(facts)
    return {row.pk: standing_of(row, findings=facts[row.pk], slides=slides) for row in rows}


def slides_played(facts: Mapping[int, Sequence[FindingFact]]) -> dict[int, float]:
    """How far the main slide was out in the last test that says so, where it is stuck now and nobody measured."""
    stuck = [pk for pk, found in facts.items() if any(_is_unmeasured(fact) for fact in found)]
    if not stuck:
        return {}
    tests = PlayTest.objects.filter(instrument__in=stuck).exclude(slide_mm=None).order_by("played_at", "pk")
    played = tests.values_list("instrument", "slide_mm")
    return {pk: float(slide_mm) for pk, slide_mm in played if slide_mm is not None}


def _is_unmeasured(fact: FindingFact) -> bool:
    fault = catalog().faults.get(fact.fault)
    return (
        fault is not None
        and FaultWay.FIXES in fault.ways
        and fact.part == MAIN_SLIDE
        and read_detail(fact.detail).pulled_mm is None
    )


def standing_facts(keys: Iterable[int]) -> Mapping[int, list[FindingFact]]:
    """The standing findings of instruments, by primary key. One query."""
    facts: dict[int, list[FindingFact]] = defaultdict(list)
    for row in Finding.objects.filter(instrument__in=list(keys)).standing():
        facts[row.instrument_id].append(row.fact)
    return facts


def standing_for(
    kind_code: str,
    options: Mapping[str, str],
    *,
    findings: Iterable[FindingFact] = (),
    is_inspected: bool = True,
    owed: frozenset[Owed] = frozenset(),
    slide_mm: float | None = None,
    trade: Catalog | None = None,
) -> Standing:
    """The standing of any instrument of this build with these findings. The same facts give the same object.

    ``trade`` is the catalog of another day.
    """
    return _standing_for(
        trade or catalog(),
        kind_code,
        tuple(sorted(options.items())),
        tuple(findings),
        is_inspected=is_inspected,
        owed=owed,
        slide_mm=slide_mm,
    )


@lru_cache(maxsize=1000)
def _standing_for(
    trade: Catalog,
    kind_code: str,
    options: tuple[tuple[str, str], ...],
    findings: tuple[FindingFact, ...],
    *,
    is_inspected: bool,
    owed: frozenset[Owed],
    slide_mm: float | None,
) -> Standing:
    kind = trade.kind(kind_code)
    chosen = kind.chosen(dict(options))
    return standing(
        catalog=trade,
        kind=kind,
        options=chosen,
        chart=chart_of(kind, chosen),
        findings=findings,
        is_inspected=is_inspected,
        owed=owed,
        slide_mm=slide_mm,
    )
