"""``manage.py import_roster PATH (--school CODE | --school-from-orgs)`` says what a roster would change; ``--commit`` does it.

Exit codes: 0 all is well, 1 there are problems, 2 the path cannot be read, or the school or courses are not known. The
files are checked first, without a database. A dry run writes nothing; with ``--commit``, a problem stops everything.
"""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError, connection
from django.db.migrations.loader import MigrationLoader
from django.utils import timezone

from core.hooks import enter_all
from inventory.exceptions import RefusedError
from inventory.models import School
from loans.rules.roster import (
    Checked,
    Problem,
    Source,
    UnreadableError,
    check_roster,
    courses_of,
    places_of,
    source_at,
    titles_of_courses,
)
from loans.selectors.roster import SchoolChanges, codes_of, school_changes, strange_courses, strange_orgs, taken_courses
from loans.services import SchoolRoster, import_rosters

PROBLEMS, USAGE = 1, 2
SHOWN = 40


@dataclass(slots=True)
class Result:
    """What is told at the end."""

    checked: Checked
    schools: list[SchoolChanges] = field(default_factory=list)
    problems: tuple[Problem, ...] = ()
    written: bool = False
    note: str = ""


class Command(BaseCommand):
    help = "Check a OneRoster folder or zip file and say what it would change; with --commit, change it."
    requires_system_checks: Any = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("path", type=Path, help="a folder, or a zip file, of OneRoster CSV 1.1 or 1.2")
        school = parser.add_mutually_exclusive_group(required=True)
        school.add_argument("--school", metavar="CODE", help="the school that all of it is for")
        school.add_argument(
            "--school-from-orgs", action="store_true", help="each class's school by the identifier in orgs.csv"
        )
        parser.add_argument(
            "--course", nargs="+", action="extend", default=[], metavar="ID",
            help="sourcedId of a course to take students from; without it, the courses chosen before",
        )  # fmt: skip
        parser.add_argument("--commit", action="store_true", help="write; without it nothing is written")
        parser.add_argument("--json", action="store_true", help="print JSON instead of sentences")

    def handle(self, *_args: Any, **options: Any) -> None:
        try:
            source = source_at(options["path"])
        except UnreadableError as error:
            raise CommandError(f"{options['path']}: {error}", returncode=USAGE) from error
        try:
            result = self._result(source, options)
        finally:
            source.close()
        if options["json"]:
            self.stdout.write(json.dumps(as_json(result), ensure_ascii=False, indent=2))
        else:
            self.stdout.write(as_text(result, is_commit=options["commit"]))
        if result.problems:
            sys.exit(PROBLEMS)

    def _result(self, source: Source, options: dict[str, Any]) -> Result:
        checked = check_roster(source)
        if checked.problems:
            return Result(checked, problems=checked.problems)
        if why := why_no_database():
            if options["commit"]:
                raise CommandError(f"{why} `make serve` sets it up.", returncode=USAGE)
            return Result(checked, note=f"{why} Only the files were checked.")
        enter_all(timezone.now())
        return compare(source, checked, options)


def why_no_database() -> str:
    """Return why there are no rows to compare with, "" where there are, without making a file where there is none."""
    name, none = connection.settings_dict["NAME"], "There is no database yet."
    if connection.vendor == "sqlite" and "memory" not in str(name) and not Path(name).exists():
        return none
    try:
        loader = MigrationLoader(connection)
    except DatabaseError:
        return none
    if not loader.applied_migrations:
        return none
    is_behind = bool(set(loader.disk_migrations) - set(loader.applied_migrations))
    return "The database is not of this version yet." if is_behind else ""


def compare(source: Source, checked: Checked, options: dict[str, Any]) -> Result:
    """Hold the roster against each school, and write what it changes where that was asked for."""
    at, today = timezone.now(), timezone.localdate()
    schools = {school.code: school for school in School.objects.order_by("code")}
    codes = codes_of(places_of(source, checked))
    if options["school"]:
        code = options["school"].strip().upper()
        if code not in schools:
            known = ", ".join(schools) or "none; add one first"
            raise CommandError(f"There is no school with the code {code}. Known: {known}", returncode=USAGE)
        wanted = {code: codes.get(code)}
    else:
        wanted = {code: orgs for code, orgs in codes.items() if code in schools}
    chosen = set(options["course"])
    courses = {code: chosen or set(taken_courses(schools[code])) for code in wanted}
    result = Result(checked)
    every = chosen.union(*courses.values())
    if not every:
        if options["commit"]:
            raise CommandError("No course was chosen yet. Name them: --course ID", returncode=USAGE)
        offered = courses_of(source, checked, today=today)
        lines = (f"{course.sourced_id}  {course.title} ({course.students} students)" for course in offered)
        result.note = "\n".join(["No course was chosen yet. Choose with --course ID among:", *lines])
        return result
    result.problems = strange_courses(source, checked, courses=every)
    if not options["school"]:
        result.problems += strange_orgs(source, checked, courses=every, codes=schools)
    for code, orgs in wanted.items():
        if courses[code]:
            result.schools.append(
                school_changes(
                    school=schools[code], source=source, checked=checked, courses=courses[code], orgs=orgs, today=today
                )
            )
    result.problems += tuple(problem for one in result.schools for problem in one.problems)
    if options["commit"] and not result.problems:
        titles = titles_of_courses(source, checked) if chosen else {}
        remembered = {course: titles.get(course, "") for course in sorted(chosen)} or None
        rosters = [SchoolRoster(one.school, one.roster, courses=remembered) for one in result.schools]
        try:
            import_rosters(rosters=rosters, actor=None, at=at)
        except RefusedError as refusal:
            raise CommandError(str(refusal), returncode=USAGE) from refusal
        result.written = True
    return result


def as_json(result: Result) -> dict[str, Any]:
    """Counts by file and problems as plain data."""
    return {
        "counts": counts(result),
        "flagged": sum(len(one.changes.flagged) for one in result.schools),
        "written": result.written,
        "problems": [
            {"file": one.file, "row": one.row, "column": one.column, "reason": one.reason} for one in result.problems
        ],
    }


def counts(result: Result) -> dict[str, dict[str, int]]:
    """Return rows, new, changed and left by file; of the rows nearly all are nobody's business here."""
    sums = {name: {"rows": rows, "new": 0, "changed": 0, "left": 0} for name, rows in result.checked.rows.items()}
    for one in result.schools:
        for name, new, changed, left in one.sums:
            if name in sums:
                for key, count in (("new", new), ("changed", changed), ("left", left)):
                    sums[name][key] += count
    return sums


def as_text(result: Result, *, is_commit: bool) -> str:
    problems = [problem.sentence for problem in result.problems]
    more = [f"… and {len(problems) - SHOWN} more; --json lists them all."] if len(problems) > SHOWN else []
    lines = [f"{one.school.code}: {one.summary}" for one in result.schools]
    if result.written:
        end = "Imported."
    elif problems:
        end = "Nothing was imported. Have the files corrected and sent again."
    elif is_commit or result.note:
        end = result.note
    else:
        end = "This was a dry run; nothing was imported. --commit imports it."
    return "\n".join([*problems[:SHOWN], *more, *lines, end])
