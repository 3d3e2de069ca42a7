"""``manage.py import_instruments FILE --school CODE`` says what a list would bring in; ``--commit`` brings it in.

Exit codes: 0 all is well, 1 there are rows with problems, 2 the file or the school cannot be used or nothing may be
written. A dry run writes nothing. With ``--commit``, rows with problems stop everything unless ``--skip-problems``.
"""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser, ArgumentTypeError
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from core.management.writing import WritingCommand
from core.sheets import LARGEST_FILE
from inventory.catalog.load import catalog
from inventory.catalog.names import UnknownNameError, resolve_kind
from inventory.columns import LOOSE_KINDS
from inventory.exceptions import RefusedError
from inventory.models import School
from inventory.rules.intake.judge import RowJudgement, RowState, counts
from inventory.services.importing import import_file, judge_file

USAGE = 2
SHOWN = 40


class Command(WritingCommand):
    help = "Say what a spreadsheet of instruments would bring in; with --commit, bring it in."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="a .csv or .xlsx file")
        parser.add_argument("--school", required=True, metavar="CODE", help="the school for rows that name none")
        parser.add_argument("--worksheet", default="", help="of a workbook; otherwise the first that holds a table")
        parser.add_argument(
            "--kind",
            action="append",
            default=[],
            type=word_and_kind,
            metavar="WORD=KIND",
            help="what a loose word means in this list: --kind sax=sax_alto; may be repeated",
        )
        parser.add_argument(
            "--dates",
            choices=("month-day", "day-month"),
            default="",
            help="which comes first where rows do not show it",
        )
        parser.add_argument("--commit", action="store_true", help="write; without it nothing is written")
        parser.add_argument(
            "--skip-problems",
            action="store_true",
            help="with --commit: import the new rows and leave out those with problems",
        )
        parser.add_argument("--json", action="store_true", help="print JSON instead of sentences")

    def handle(self, *_args: Any, **options: Any) -> None:
        school, data = school_of(options["school"]), content_of(options["file"])
        today = timezone.localdate()
        sent = {"school": school, "data": data, "filename": options["file"].name, "worksheet": options["worksheet"]}
        sent |= {"kinds": dict(options["kind"]), "order": options["dates"].replace("-", "_")}
        written = None
        try:
            rows = judge_file(**sent, today=today)
            sums = counts(rows)
            if options["commit"] and (options["skip_problems"] or not sums[RowState.PROBLEM]):
                written = import_file(**sent, at=timezone.now(), today=today)
        except RefusedError as refusal:
            raise CommandError(str(refusal), returncode=USAGE) from refusal
        if options["json"]:
            self.stdout.write(json.dumps(as_json(rows, written=written), ensure_ascii=False, indent=2))
        else:
            self.stdout.write(as_text(rows, written=written, is_commit=options["commit"]))
        if sums[RowState.PROBLEM]:
            sys.exit(1)


def word_and_kind(text: str) -> tuple[str, str]:
    """Read WORD=KIND; the kind by its code or a word for it."""
    word, _equals, kind = text.partition("=")
    word = " ".join(word.casefold().split())
    if word not in LOOSE_KINDS:
        raise ArgumentTypeError(f"{word!r} is not a word that is asked. Asked are: {', '.join(LOOSE_KINDS)}")
    try:
        return word, resolve_kind(catalog(), kind).code
    except UnknownNameError as error:
        raise ArgumentTypeError(str(error)) from error


def school_of(code: str) -> School:
    found = School.objects.filter(code=code.strip().upper()).first()
    if found is None:
        known = ", ".join(School.objects.order_by("code").values_list("code", flat=True)) or "none; add one first"
        raise CommandError(f"There is no school with the code {code}. Known: {known}", returncode=USAGE)
    return found


def content_of(path: Path) -> bytes:
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise CommandError(f"{path} is larger than {LARGEST_FILE // 2**20} MB. Split it.", returncode=USAGE)
        return path.read_bytes()
    except OSError as error:
        raise CommandError(f"{path} cannot be read: {error.strerror}.", returncode=USAGE) from error


def as_json(rows: list[RowJudgement], *, written: int | None) -> dict[str, Any]:
    """Counts and problem rows as plain data; ``written`` is None where nothing was to be written."""
    return {
        "counts": {state.value: count for state, count in counts(rows).items() if count or state != RowState.SKIPPED},
        "written": written,
        "problems": [
            {"row": problem.number, "column": problem.column, "reason": problem.reason}
            for row in rows
            for problem in row.problems
        ],
    }


def as_text(rows: list[RowJudgement], *, written: int | None, is_commit: bool) -> str:
    problems = [problem.sentence for row in rows for problem in row.problems]
    more = [f"… and {len(problems) - SHOWN} more; --json lists them all."] if len(problems) > SHOWN else []
    new, known, wrong, skipped = counts(rows).values()
    if written is not None:
        end = f"Imported: {written} instruments."
    elif is_commit:
        end = "Nothing was imported. Correct the rows, or leave them out with --skip-problems."
    else:
        end = "This was a dry run; nothing was imported. --commit imports the new rows."
    sums = f", {skipped} with sums or headings skipped" if skipped else ""
    total = f"{new} new, {known} already registered, {wrong} with a problem{sums}."
    return "\n".join([*problems[:SHOWN], *more, total, end])
