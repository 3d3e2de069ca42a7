"""``manage.py playing KIND``: what can still be played with these findings. Needs no instrument and no database."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from dataclasses import asdict
from typing import Any

from django.core.management.base import CommandError

from inventory.catalog.load import catalog
from inventory.catalog.names import (
    UnknownNameError,
    resolve_detail,
    resolve_fault,
    resolve_kind,
    resolve_part,
    resolve_severity,
)
from inventory.catalog.schema import Catalog, Kind
from inventory.management.figures import FiguresCommand
from inventory.rules.diagnose import UnknownNotesError
from inventory.rules.facts import FindingFact
from inventory.rules.playing import LEVELS, for_everybody, level_fits, uncharted
from inventory.rules.verdict import Judgement
from inventory.selectors.standing import standing_for

NO_RANGE = "No range is stated for this kind: judge by the functions it has lost."
USAGE = 2  # exit status for arguments that cannot be understood


class KindCommand(FiguresCommand):
    """Answers about a kind of instrument from the catalog and the figures over it."""

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("kind", help="a kind of instrument, such as trumpet")
        parser.add_argument(
            "--option", action="append", default=[], metavar="NAME=CHOICE", help="such as valves=4; may be repeated"
        )
        parser.add_argument("--json", action="store_true", help="print JSON instead of a table")

    def handle(self, *_args: Any, **options: Any) -> None:
        try:
            kind = resolve_kind(catalog(), options["kind"])
            data, text = self.answer(kind, options_of(kind, options["option"]), options)
        except (UnknownNameError, UnknownNotesError) as error:
            raise CommandError(str(error), returncode=USAGE) from error
        if options["json"]:
            self.stdout.write(json.dumps(data | {"figures": self.counted_with}, ensure_ascii=False, indent=2))
        else:
            self.stdout.write(f"{text}\n{self.counted_words}")

    def answer(self, kind: Kind, chosen: dict[str, str], options: dict[str, Any]) -> tuple[dict[str, Any], str]:
        """Return the answer as plain data, and as text for a terminal."""
        raise NotImplementedError


class Command(KindCommand):
    help = "Show what can still be played on a kind of instrument with these findings."

    def add_arguments(self, parser: ArgumentParser) -> None:
        super().add_arguments(parser)
        parser.add_argument(
            "--finding",
            action="append",
            default=[],
            metavar="PART:FAULT:SEVERITY[:DETAIL]",
            help="such as third_valve_slide:slide_seized:severe or piston_2:valve_stuck:severe:down; may be repeated",
        )
        parser.add_argument("--level", default="first-year", help="first-year, second-year, concert or marching")

    def answer(self, kind: Kind, chosen: dict[str, str], options: dict[str, Any]) -> tuple[dict[str, Any], str]:
        level = level_of(options["level"])
        findings = [finding_of(catalog(), kind=kind, text=text, options=chosen) for text in options["finding"]]
        standing = standing_for(kind.code, chosen, findings=findings)
        judgement, reports = standing.at(level), standing.reports
        fits = [f"{one.name}: {one.words}." for one in level_fits(reports=reports)] or [NO_RANGE]
        words = " ".join([*fits, *for_everybody(reports=reports)])
        missing = list(uncharted(kind=kind, chart=standing.chart, level=level))
        lines = [as_table(kind=kind, judgement=judgement), words]
        if missing:
            lines.append(f"Not judged, because the chart has no fingering for them: {', '.join(missing)}.")
        return as_json(kind=kind, judgement=judgement) | {"fit": words, "uncharted": missing}, "\n".join(lines)


def options_of(kind: Kind, texts: list[str]) -> dict[str, str]:
    """Return the options of a kind from NAME=CHOICE texts; UnknownNameError lists those it has."""
    known = {option.code: option for option in kind.options}
    chosen = kind.chosen({})
    for text in texts:
        code, _, choice = text.partition("=")
        if code not in known:
            raise UnknownNameError(what=f"option of a {kind.code}", name=code, known=known or ("none",))
        if choice not in known[code].choices:
            raise UnknownNameError(what=f"choice of {code}", name=choice, known=known[code].choices)
        chosen[code] = choice
    return chosen


def level_of(text: str) -> str:
    """Return the level with this name; UnknownNameError lists the levels."""
    level = text.strip().lower().replace("-", "_").replace(" ", "_")
    if level not in LEVELS:
        raise UnknownNameError(what="level", name=text, known=[one.replace("_", "-") for one in LEVELS])
    return level


def finding_of(known: Catalog, *, kind: Kind, text: str, options: dict[str, str]) -> FindingFact:
    """Return a finding from PART:FAULT:SEVERITY[:DETAIL]; UnknownNameError lists what is known where it went wrong."""
    fields = text.split(":", 3)
    if len(fields) < 3:  # part, fault, severity
        raise UnknownNameError(what="finding", name=text, known=("PART:FAULT:SEVERITY", "PART:FAULT:SEVERITY:DETAIL"))
    part, place = resolve_part(kind, fields[0])
    built = kind.built(options)
    if not built.has(part.code, place.code if place else ""):
        has = [one.code for one in built.parts]
        raise UnknownNameError(what=f"part of this {kind.code} with its options", name=fields[0], known=has)
    fault = resolve_fault(known, fields[1], part=part)
    return FindingFact(
        part=part.code,
        place=place.code if place else "",
        fault=fault.code,
        severity=resolve_severity(fields[2]),
        detail=resolve_detail("".join(fields[3:]), fault=fault, role=known.roles[part.role]),
    )


def picked(row: object, *names: str) -> dict[str, Any]:
    """Return some attributes of a row, by their names."""
    return {name: getattr(row, name) for name in names}


def as_json(*, kind: Kind, judgement: Judgement) -> dict[str, Any]:
    """Return a judgement as JSON takes it: verdict, notes, tuning range, functions, limits, effects."""
    report = judgement.report
    return {
        "kind": kind.code,
        "level": report.level,
        "verdict": judgement.verdict,
        "notes": [picked(note, "written", "sounding", "state", "fingering") | note.figures for note in report.notes],
        "tuning_range": asdict(report.tuning_range) if report.tuning_range else None,
        "functions_lost": report.functions_lost,
        **picked(judgement, "limits", "reasons"),
        "effects": [picked(effect, "effect", "group", "sentence") for effect in judgement.effects],
        "verified": report.verified,
    }


def as_table(*, kind: Kind, judgement: Judgement) -> str:
    """Return a judgement as text for a terminal."""
    report = judgement.report
    lines = [f"{kind.name}: {judgement.verdict.words}"]
    lines += [f"  {effect.sentence}" for effect in judgement.effects]
    if report.notes:
        lines.append(f"{'note':<6}{'state':<18}{'fingering':<36}cents")
    for note in report.notes:
        cents = "" if note.cents is None else f"{note.cents:+.1f}"
        lines.append(f"{note.written:<6}{note.state.replace('_', ' '):<18}{note.fingering:<36}{cents}")
    if report.tuning_range is not None:
        tuning = report.tuning_range
        reach = "reaches" if tuning.can_reach_a440 else "cannot reach"
        lines.append(f"Main slide: {tuning.up_cents:+.0f} / {-tuning.down_cents:+.0f} cents; {reach} A4 = 440 Hz")
    lines += [f"Lost: {function}" for function in report.functions_lost]
    if not report.verified:
        lines.append("Fingerings from memory: unverified until the district confirms them.")
    return "\n".join(lines)
