"""``manage.py forget_leavers`` erases the names of students who left long ago. For a nightly run."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.core.management.base import CommandParser
from django.utils import timezone

from core.exceptions import RefusedError
from core.management.writing import WritingCommand
from core.pdf import PdfError
from loans.models import Student
from loans.selectors.leavers import is_period_set, leavers, years_leavers_are_kept
from loans.services import erase_student
from loans.tasks import print_before_erasing


class Command(WritingCommand):
    help = (
        "List the students who left longer ago than the district keeps their names (Setup, figures); with --commit, erase "
        "them. Their loans stay, without the person. Nobody is erased while an instrument is out, money is owed either "
        "way, a claim is open or a legal hold is in force. Nobody is named here: students are called by their key."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--commit", action="store_true", help="erase them; without it, only list them")
        parser.add_argument(
            "--if-set", action="store_true", help="do nothing until the district has set how long names are kept"
        )
        parser.add_argument(
            "--date", type=date.fromisoformat, metavar="DAY", help="as of this day, 2027-07-01; without it, today"
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        if options["if_set"] and not is_period_set():
            self.stdout.write("nobody is erased: the district has not set how long names are kept (Setup, figures)")
            return
        now = timezone.now()
        found = list(leavers(today=options["date"] or timezone.localdate(now)))
        done = 0
        for leaver in found:
            student = leaver.student
            where = f"student {student.pk}, {student.school}, left {student.left_on}"
            if leaver.kept_by:
                self.stdout.write(f"{where}: not yet, {' and '.join(leaver.kept_by)}")
            elif options["commit"]:
                done += self.is_erased(student, where)
            else:
                self.stdout.write(where + (f": {leaver.unsure} texts to look at first" if leaver.unsure else ""))
        years, waiting = years_leavers_are_kept(), sum(not leaver.kept_by for leaver in found)
        if options["commit"]:
            self.stdout.write(f"{done} erased, {len(found) - done} kept; names are kept {years} years")
        else:
            self.stdout.write(f"{waiting} to erase, left {years} years ago or longer; use --commit to erase them")

    def is_erased(self, student: Student, where: str) -> bool:
        """Erase one; what comes in the way in the meantime is said, and the others go on."""
        now = timezone.now()
        try:
            print_before_erasing(student=student, actor=None, at=now)
            erase_student(student=student, actor=None, at=now)
        except (RefusedError, PdfError) as error:
            self.stdout.write(f"{where}: not yet, {type(error).__name__}")
            return False
        self.stdout.write(f"{where}: erased")
        return True
