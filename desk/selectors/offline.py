"""What a person needs on a phone without a signal: the register and the open work, and nothing about students."""

from __future__ import annotations

import json
from collections import defaultdict
from typing import Any

from core.models import User
from inventory.models import Count, Inspection, Instrument, Tag
from repairs.models import Job

MOST_INSTRUMENTS = 4000
MOST_WALKS, MOST_JOBS, MOST_COUNTS, MOST_BEGUN = 60, 20, 5, 10
INSPECT, COUNT, WORK = "inventory.inspect_instrument", "inventory.count_instruments", "repairs.do_step"


def instruments_to_carry(user: User) -> list[Instrument]:
    rows = Instrument.objects.visible_to(user).present().filter(merged_into=None, is_entered_in_error=False)
    return list(rows.for_table().order_by("asset_number")[:MOST_INSTRUMENTS])


def tokens_of(instruments: list[Instrument]) -> dict[int, list[str]]:
    """Return the live tags by instrument."""
    tokens: dict[int, list[str]] = defaultdict(list)
    rows = Tag.objects.live().filter(instrument__in=[row.pk for row in instruments])
    for instrument, token in rows.values_list("instrument", "token"):
        tokens[instrument].append(token)
    return tokens


def examples_of(instruments: list[Instrument]) -> dict[tuple[str, str], str]:
    """Return for each kind, as built, the number of one instrument: the walk of all of them is the same."""
    examples: dict[tuple[str, str], str] = {}
    for row in instruments:
        if len(examples) < MOST_WALKS:
            examples.setdefault(build_of(row), row.asset_number)
    return examples


def build_of(instrument: Instrument) -> tuple[str, str]:
    return instrument.kind_code, json.dumps(instrument.options, sort_keys=True)


def open_work(user: User) -> dict[str, list[Any]]:
    """Return the jobs that are first due, the counts that go on, and the inspections this person has begun."""
    jobs = Job.objects.visible_to(user, WORK).open().for_table().first_due()
    counts = Count.objects.visible_to(user, COUNT).open().filter(counted_at=None).for_table()
    walks = Inspection.objects.visible_to(user, INSPECT).drafts().filter(actor=user)
    return {
        "jobs": list(jobs[:MOST_JOBS]),
        "counts": list(counts[:MOST_COUNTS]),
        "walks": list(walks.select_related("instrument__school").order_by("-started_at")[:MOST_BEGUN]),
    }
