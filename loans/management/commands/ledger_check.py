"""Check that the ledger balances."""

from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand

from loans.models import LedgerEntry
from loans.selectors.ledger import ledger_differences


class Command(BaseCommand):
    help = "Checks that every entry of the ledger balances and moves what it says; exit 1 if any does not."

    def handle(self, *args: Any, **options: Any) -> None:
        found = list(ledger_differences())
        for sentence in found:
            self.stdout.write(sentence)
        self.stdout.write(f"{LedgerEntry.objects.count()} entries, {len(found)} differences")
        if found:
            sys.exit(1)
