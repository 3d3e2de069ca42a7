"""Kinds, charts and findings for the tests of the rules that compute notes, from the catalog that ships."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache

from inventory.catalog.chart_schema import Chart
from inventory.catalog.charts import chart_of
from inventory.catalog.load import FOLDER, load_catalog
from inventory.catalog.names import resolve_part
from inventory.catalog.schema import Kind, Severity
from inventory.rules.diagnose import Diagnosis, PlayedNotes, Survey, diagnose, survey
from inventory.rules.facts import FindingFact
from inventory.rules.playing import PlayingReport, playing
from inventory.rules.verdict import Judgement, judge

CATALOG = load_catalog(FOLDER)
KINDS = CATALOG.kinds
WITH_NOTES = tuple(code for code, kind in KINDS.items() if kind.levels and kind.model != "table")


def make_kind(code: str) -> Kind:
    return KINDS[code]


def make_chart(code: str, options: Mapping[str, str] | None = None) -> Chart | None:
    return chart_of(KINDS[code], options or {})


def make_finding(code: str, text: str) -> FindingFact:
    """Return a finding from "piston_2:valve_stuck:severe" or "piston_2:valve_stuck:severe:down"."""
    part_text, fault, severity, *detail = text.split(":")
    part, place = resolve_part(KINDS[code], part_text)
    return FindingFact(
        part=part.code,
        place=place.code if place else "",
        fault=fault,
        severity=Severity(severity),
        detail=detail[0] if detail else "",
    )


def make_report(
    code: str,
    *findings: str | FindingFact,
    level: str = "first_year",
    options: Mapping[str, str] | None = None,
    standard_only: bool = False,
    pitch_limit: float = 25.0,
) -> PlayingReport:
    kind = KINDS[code]
    return playing(
        kind=kind,
        chart=chart_of(kind, options or {}),
        options=options or {},
        findings=made(code, findings),
        level=level,
        faults=CATALOG.faults,
        roles=CATALOG.roles,
        standard_only=standard_only,
        pitch_limit=pitch_limit,
    )


def make_judgement(code: str, *findings: str, level: str = "first_year", inspected: bool = True) -> Judgement:
    kind = KINDS[code]
    return judge(
        kind=kind,
        findings=made(code, findings),
        faults=CATALOG.faults,
        roles=CATALOG.roles,
        chart=chart_of(kind, {}),
        options={},
        settings=CATALOG.settings,
        level=level,
        inspected=inspected,
    )


def make_diagnosis(
    code: str,
    *failed: str,
    level: str = "",
    weak: Sequence[str] | None = None,
    tried: Sequence[str] = (),
    options: Mapping[str, str] | None = None,
) -> Diagnosis:
    kind, chart, options = KINDS[code], make_chart(code, options), options or {}
    return diagnose(
        PlayedNotes(failed=failed, weak=tuple(weak or ()), tried=tuple(tried), tells_weak=weak is not None),
        kind=kind,
        chart=chart,
        faults=CATALOG.faults,
        surveyed=lambda wanted: surveyed(code, wanted, **options),
        level=level,
        options=options,
    )


@cache
def surveyed(code: str, level: str, **options: str) -> Survey:
    """Every fault tried on the notes of a level: the slow half of a diagnosis, and the same for all of one kind."""
    chart = make_chart(code, options)
    return survey(KINDS[code], level, chart=chart, options=options, faults=CATALOG.faults, roles=CATALOG.roles)


def made(code: str, findings: Sequence[str | FindingFact]) -> list[FindingFact]:
    return [make_finding(code, one) if isinstance(one, str) else one for one in findings]


def states(report: PlayingReport) -> dict[str, str]:
    return {note.written: note.state.value for note in report.notes}


def cents(report: PlayingReport) -> dict[str, float | None]:
    return {note.written: note.cents for note in report.notes}


def fingerings(report: PlayingReport) -> dict[str, str]:
    return {note.written: note.fingering for note in report.notes}
