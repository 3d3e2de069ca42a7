"""Deletes signed papers past their retention period."""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandParser
from django.utils import timezone

from core.management.writing import WritingCommand
from loans.selectors.papers import expired_papers, years_papers_are_kept
from loans.services import delete_papers


class Command(WritingCommand):
    help = (
        "List the signed papers that the district no longer has to keep; with --commit, delete them. Their hashes stay. "
        "The number of years is set under Set-up; without one, nothing is deleted."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--commit", action="store_true", help="delete them; without it, only list them")

    def handle(self, *_args: Any, **options: Any) -> None:
        if years_papers_are_kept() is None:
            self.stdout.write("No number of years is set (Set-up, District), so every paper is kept.")
            return
        now = timezone.now()
        past = list(expired_papers(today=timezone.localdate(now)))
        for agreement, until in past:
            if options["commit"]:
                delete_papers(agreement=agreement, actor=None, at=now)
            self.stdout.write(f"loan {agreement.loan_id}, {agreement.loan.instrument.asset_number}, kept until {until}")
        words = "deleted" if options["commit"] else "past their retention period; use --commit to delete"
        self.stdout.write(f"{len(past)} paper{'' if len(past) == 1 else 's'} {words}")
