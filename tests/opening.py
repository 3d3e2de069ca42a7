"""Rows that tests make past the services get their opening events, as a migration gives them to rows of old."""

from __future__ import annotations

from collections.abc import Collection

from django.db import models
from django.db.models import Q

from core.models import Event, EventHead, User
from core.openings import Opening, open_rows
from core.traces import registered
from desk.selectors import verifying
from inventory.models import District, ImportBatch, Room, School, StaffRole
from loans.models import AgreementTerms, Guardian, Student
from repairs.models import Attempt, Bench, RepairBudget
from tests.factories import NOW

# What tests/factories.py and its like make without a service.
MADE_RAW = {
    AgreementTerms,
    Attempt,
    Bench,
    District,
    Guardian,
    ImportBatch,
    RepairBudget,
    Room,
    School,
    StaffRole,
    Student,
    User,
}


def open_all(*, only: Collection[type[models.Model]] = ()) -> None:
    """Give every row, or those of some models, that has no event to begin with an opening event."""
    openings = [
        Opening(trace.model, begins=tuple(trace.begins), needs=trace.needs or Q()) for trace in registered()
    ] + [Opening(named.model) for trace in registered() for named in trace.named]
    chosen = [one for one in openings if not only or one.model in only]
    open_rows(chosen, at=NOW, event=Event, head=EventHead)


def open_made() -> None:
    """Open the rows that tests make without a service, and no others."""
    open_all(only=MADE_RAW)


def differences() -> tuple[int, list[str]]:
    """What ``verify`` finds, once the rows that tests make without a service are opened."""
    open_made()
    return verifying.differences()
