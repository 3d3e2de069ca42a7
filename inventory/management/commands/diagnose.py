"""``manage.py diagnose KIND --failed NOTES``: which parts explain the notes that failed. Needs no database."""

from __future__ import annotations

from argparse import ArgumentParser
from collections.abc import Sequence
from functools import partial
from typing import Any

from django.core.management.base import CommandError

from inventory.catalog.load import catalog
from inventory.catalog.names import full_code
from inventory.catalog.schema import Kind
from inventory.management.commands.playing import USAGE, KindCommand, level_of, picked
from inventory.rules.diagnose import Diagnosis, PlayedNotes, Suspect, diagnose
from inventory.rules.diagnose.suspects import Cause
from inventory.rules.facts import FindingFact
from inventory.selectors.playing import survey_at
from inventory.selectors.standing import standing_for

SHOWN = 20


class Command(KindCommand):
    help = "Rank the parts that could explain the notes that failed in a play test."

    def add_arguments(self, parser: ArgumentParser) -> None:
        super().add_arguments(parser)
        parser.add_argument("--failed", default="", metavar="NOTE,NOTE", help="written notes, such as C#4,D4")
        parser.add_argument(
            "--weak",
            metavar="NOTE,NOTE",
            help="notes that sounded weak; then --failed are those that did not sound at all",
        )
        parser.add_argument(
            "--tried", default="", metavar="NOTE,NOTE", help="notes that were played; default: every note of the range"
        )
        parser.add_argument(
            "--level", default="", help="the range that was tested; default: the smallest that has the notes"
        )

    def answer(self, kind: Kind, chosen: dict[str, str], options: dict[str, Any]) -> tuple[dict[str, Any], str]:
        tested = PlayedNotes(
            failed=notes_of(options["failed"]),
            weak=notes_of(options["weak"] or ""),
            tried=notes_of(options["tried"]),
            tells_weak=options["weak"] is not None,
        )
        healthy = standing_for(kind.code, chosen)
        level = level_of(options["level"]) if options["level"] else ""
        if not tested.failed and not tested.weak:
            raise CommandError("name at least one note that failed: --failed C#4,D4", returncode=USAGE)
        surveyed, faults = partial(survey_at, healthy), catalog().faults
        found = diagnose(
            tested,
            kind=kind,
            chart=healthy.chart,
            faults=faults,
            surveyed=surveyed,
            level=level,
            options=healthy.options,
        )
        silent = surveyed(found.level).silent
        return as_json(kind=kind, found=found, silent=silent), as_table(kind=kind, found=found, silent=silent)


def notes_of(text: str) -> tuple[str, ...]:
    """Return the notes of a list with commas."""
    return tuple(note.strip() for note in text.split(",") if note.strip())


def as_json(*, kind: Kind, found: Diagnosis, silent: Sequence[FindingFact]) -> dict[str, Any]:
    """Return a diagnosis as JSON takes it, suspects in order."""
    return {
        "kind": kind.code,
        **picked(found, "level", "failed", "tried", "hints"),
        "suspects": [
            {
                **picked(suspect, "rank", "ties"),
                "part": code_of(kind, suspect),
                "fault": suspect.fault,
                "causes": [
                    {"part": code_of(kind, cause), **picked(cause, "fault", "detail")} for cause in suspect.causes
                ],
                **picked(suspect, "explains", "unexplained", "extra", "test"),
            }
            for suspect in found.suspects
        ],
        "silent": [{"part": code_of(kind, one), "fault": one.fault} for one in silent],
    }


def code_of(kind: Kind, at: Cause | Suspect | FindingFact) -> str:
    """Return the full code of a part, or of a place at it."""
    part = kind.part(at.part)
    return full_code(part, next((one for one in part.places if one.code == at.place), None))


def as_table(*, kind: Kind, found: Diagnosis, silent: Sequence[FindingFact]) -> str:
    """Return a diagnosis as text for a terminal, the best twenty suspects."""
    played = f"{len(found.tried)} notes of the {found.level.replace('_', '-')} range played"
    lines = [f"{kind.name}, failed: {', '.join(found.failed)} ({played})"]
    lines += [f"  {hint}" for hint in found.hints]
    if not found.suspects:
        lines.append("No fault in the catalog affects these notes: check mouthpiece, reed, player and tuning.")
    lines += [_row(kind, suspect) for suspect in found.suspects[:SHOWN]]
    if len(found.suspects) > SHOWN:
        lines.append(f"... and {len(found.suspects) - SHOWN} more")
    names = dict.fromkeys(catalog().fault_name(one.fault) for one in silent)
    if names:
        lines.append(f"No note of this range tells, at some places: {', '.join(names)}.")
    return "\n".join(lines)


def _row(kind: Kind, suspect: Suspect) -> str:
    causes = " with ".join(
        f"{code_of(kind, cause)}: {cause.fault}{f' ({cause.detail})' if cause.detail else ''}"
        for cause in suspect.causes
    )
    extra = f"; would also spoil {', '.join(suspect.extra)}" if suspect.extra else ""
    missed = f"; does not explain {', '.join(suspect.unexplained)}" if suspect.unexplained else ""
    ties = f" (the notes fit {suspect.ties} more as well)" if suspect.ties else ""
    return f"{suspect.rank}. {causes}{ties}{missed}{extra}\n     {suspect.test}"
