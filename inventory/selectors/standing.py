"""The standing of instruments: the only place that feeds rows to the rules."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from functools import lru_cache

from inventory.catalog.charts import chart_of
from inventory.catalog.load import catalog
from inventory.catalog.schema import Catalog
from inventory.models import Finding, Instrument
from inventory.rules.facts import FindingFact, Owed
from inventory.rules.standing import Standing, standing


def standing_of(
    instrument: Instrument, *, findings: Iterable[FindingFact] | None = None, is_inspected: bool | None = None
) -> Standing:
    """The standing of one instrument. One query, none where the caller has its standing findings.

    ``is_inspected`` is taken from the instrument's own column where it is not given.
    """
    facts = Finding.objects.filter(instrument=instrument).standing().facts() if findings is None else findings
    inspected = instrument.inspected_at is not None if is_inspected is None else is_inspected
    return standing_for(
        instrument.kind_code, instrument.options, findings=facts, is_inspected=inspected, owed=instrument.owed
    )


def standings_of(instruments: Iterable[Instrument]) -> dict[int, Standing]:
    """The standing of each, by primary key. One query for all of them."""
    rows = list(instruments)
    facts = standing_facts(row.pk for row in rows)
    return {row.pk: standing_of(row, findings=facts[row.pk]) for row in rows}


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
) -> Standing:
    """The standing of any instrument of this build with these findings. The same facts give the same object."""
    return _standing_for(
        catalog(), kind_code, tuple(sorted(options.items())), tuple(findings), is_inspected=is_inspected, owed=owed
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
) -> Standing:
    kind = trade.kind(kind_code)
    chosen = {option.code: option.default for option in kind.options} | dict(options)
    return standing(
        catalog=trade,
        kind=kind,
        options=chosen,
        chart=chart_of(kind, chosen),
        findings=findings,
        is_inspected=is_inspected,
        owed=owed,
    )
