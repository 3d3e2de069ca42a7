"""``manage.py diagnose KIND --failed NOTES``: which parts explain the notes that failed. Needs no database."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from functools import partial
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from inventory.catalog.load import catalog
from inventory.catalog.names import UnknownNameError, full_code, resolve_kind
from inventory.catalog.schema import Kind
from inventory.management.commands.playing import USAGE, level_of, options_of
from inventory.rules.diagnose import Diagnosis, Heard, Suspect, UnknownNotesError, diagnose
from inventory.selectors.playing import predictions_at
from inventory.selectors.standing import standing_for

SHOWN = 20


class Command(BaseCommand):
    help = "Rank the parts that could explain the notes that failed in a play test."
    requires_system_checks = []
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("kind", help="a kind of instrument, such as clarinet_bb")
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
        parser.add_argument("--option", action="append", default=[], metavar="NAME=CHOICE", help="such as valves=4")
        parser.add_argument("--json", action="store_true", help="print JSON instead of a table")

    def handle(self, *_args: Any, **options: Any) -> None:
        known = catalog()
        failed = notes_of(options["failed"])
        heard = Heard(
            failed=failed,
            weak=notes_of(options["weak"] or ""),
            tried=notes_of(options["tried"]),
            tells_weak=options["weak"] is not None,
        )
        try:
            kind = resolve_kind(known, options["kind"])
            healthy = standing_for(kind.code, options_of(kind, options["option"]))
            level = level_of(options["level"]) if options["level"] else ""
            if not failed and not heard.weak:
                raise CommandError("name at least one note that failed: --failed C#4,D4", returncode=USAGE)
            found = diagnose(
                heard,
                kind=kind,
                chart=healthy.chart,
                faults=known.faults,
                predict=partial(predictions_at, healthy),
                level=level,
            )
        except (UnknownNameError, UnknownNotesError) as error:
            raise CommandError(str(error), returncode=USAGE) from error
        if options["json"]:
            self.stdout.write(json.dumps(as_json(kind=kind, found=found), ensure_ascii=False, indent=2))
        else:
            self.stdout.write(as_table(kind=kind, found=found))


def notes_of(text: str) -> tuple[str, ...]:
    """Return the notes of a list with commas."""
    return tuple(note.strip() for note in text.split(",") if note.strip())


def as_json(*, kind: Kind, found: Diagnosis) -> dict[str, Any]:
    """Return a diagnosis as plain data, suspects in order."""
    return {
        "kind": kind.code,
        "level": found.level,
        "failed": list(found.failed),
        "tried": list(found.tried),
        "hints": list(found.hints),
        "suspects": [
            {
                "rank": suspect.rank,
                "ties": suspect.ties,
                "part": code_of(kind, part=suspect.part, place=suspect.place),
                "fault": suspect.fault,
                "causes": [
                    {
                        "part": code_of(kind, part=cause.part, place=cause.place),
                        "fault": cause.fault,
                        "detail": cause.detail,
                    }
                    for cause in suspect.causes
                ],
                "explains": list(suspect.explains),
                "unexplained": list(suspect.unexplained),
                "extra": list(suspect.extra),
                "test": suspect.test,
            }
            for suspect in found.suspects
        ],
    }


def code_of(kind: Kind, *, part: str, place: str) -> str:
    """Return the full code of a part, or of a place at it."""
    found = kind.part(part)
    return full_code(found, next((one for one in found.places if one.code == place), None))


def as_table(*, kind: Kind, found: Diagnosis) -> str:
    """Return a diagnosis as text for a terminal, the best twenty suspects."""
    played = f"{len(found.tried)} notes of the {found.level.replace('_', '-')} range played"
    lines = [f"{kind.name}, failed: {', '.join(found.failed)} ({played})"]
    lines += [f"  {hint}" for hint in found.hints]
    if not found.suspects:
        lines.append("No fault in the catalog affects these notes: check mouthpiece, reed, player and tuning.")
    lines += [_row(kind, suspect) for suspect in found.suspects[:SHOWN]]
    if len(found.suspects) > SHOWN:
        lines.append(f"... and {len(found.suspects) - SHOWN} more")
    return "\n".join(lines)


def _row(kind: Kind, suspect: Suspect) -> str:
    causes = " with ".join(
        f"{code_of(kind, part=cause.part, place=cause.place)}: {cause.fault}"
        + (f" ({cause.detail})" if cause.detail else "")
        for cause in suspect.causes
    )
    extra = f"; would also spoil {', '.join(suspect.extra)}" if suspect.extra else ""
    missed = f"; does not explain {', '.join(suspect.unexplained)}" if suspect.unexplained else ""
    ties = f" (the notes fit {suspect.ties} more as well)" if suspect.ties else ""
    return f"{suspect.rank}. {causes}{ties}{missed}{extra}\n     {suspect.test}"
