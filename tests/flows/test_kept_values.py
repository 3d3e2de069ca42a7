"""Whatever is corrected in whatever order: events and revisions, replayed, give the row; also after an erasure."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from core.events import TEXTS, broken_links, text_hash
from core.models import Event, Revision
from core.revisions import row_differences, text_differences
from inventory.columns import TYPED, VALUES
from inventory.models import Instrument
from inventory.services.registering import change_instrument
from loans.services import erase_student
from tests.factories import NOW, make_district, make_instrument, make_room, make_school, make_student

WORDS = st.sampled_from(["", "Vale", "Rosa Lindqvist", "R. Lindqvist's", "horn of Lindqvist, Rosa", "§ ♭ 12-B"])
AMOUNTS = st.none() | st.decimals(0, 90_000, places=2)
CORRECTION = st.fixed_dictionaries(
    {},
    optional={
        **dict.fromkeys(TYPED, WORDS),
        "level": st.sampled_from(["student", "intermediate"]),
        "year_made": st.none() | st.integers(1701, 2026),
        "options": st.sampled_from([{"third_slide": choice} for choice in ("ring", "trigger", "none")]),
        "acquired_by": st.sampled_from(["bought", "gift", "transfer", "unknown"]),
        "acquired_on": st.none() | st.dates(date(1990, 1, 1), date(2026, 9, 1)),
        "acquisition_cost_amount": AMOUNTS,
        "replacement_amount": AMOUNTS,
        "federal_percent": st.none() | st.decimals(0, 100, places=2),
        "school": st.sampled_from([0, 1]),
    },
)  # fmt: skip
# What replay gives in Django's own words, apart from the code that writes events.
AS_ROW = {
    "acquired_on": date.fromisoformat, "acquisition_cost_amount": Decimal, "replacement_amount": Decimal,
    "federal_percent": Decimal,
}  # fmt: skip


def replayed(instrument):
    """The columns as events and revisions alone give them."""
    names = {said: column for column, said in VALUES.items()}
    row = dict.fromkeys(VALUES) | dict.fromkeys(TYPED, "")
    for event in Event.objects.filter(thread=instrument.thread, subject_type="inventory.instrument").order_by("number"):
        if event.act not in {"registered", "corrected", "text_redacted"}:
            continue
        for said, value in event.after.items():
            if said in names:
                column = names[said]
                row[column] = AS_ROW[column](value) if value is not None and column in AS_ROW else value
        for column, digest in event.after.get(TEXTS, {}).items():
            version = Revision.objects.get(number=event.number, column=column)
            assert version.is_erased or text_hash(version.salt, version.after) == digest
            row[column] = version.after
    return row


def stored(instrument):
    row = Instrument.objects.values(*VALUES, *TYPED).get(pk=instrument.pk)
    return {name: value or None if name == "options" else value for name, value in row.items()}


@pytest.mark.parametrize("examples", [8, pytest.param(250, marks=pytest.mark.drill)])
def test_corrections_replayed_give_the_row(examples, db, director):
    schools = [make_school(), make_school()]
    rooms = [make_room(school=school) for school in schools]
    make_district()

    @settings(
        max_examples=examples, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck), database=None
    )
    @given(corrections=st.lists(CORRECTION, max_size=6), erased_after=st.integers(0, 6), nickname=st.booleans())
    def corrected(corrections, erased_after, nickname):
        instrument = make_instrument(school=schools[0], room=rooms[0], notes="Rosa Lindqvist had it")
        student = make_student(school=schools[0], name="Rosa Lindqvist", guardian_name="")
        for number, said in enumerate(corrections):
            columns = dict(said)
            if "school" in columns:
                columns |= {"school": schools[said["school"]], "room": rooms[said["school"]]}
            if columns.get("serial"):
                columns["serial"] += f" {instrument.pk}"  # no two of a maker have the same
            change_instrument(instrument=instrument, actor=director, at=NOW + timedelta(days=number), **columns)
            if number == erased_after:
                erase_student(student=student, actor=director, at=NOW + timedelta(days=99))
        if erased_after >= len(corrections):
            erase_student(student=student, actor=director, at=NOW + timedelta(days=99))
        assert replayed(instrument) == stored(instrument)
        assert [*row_differences(), *text_differences()] == []

    corrected()
    assert list(broken_links()) == []
    assert Event.objects.filter(act="corrected").exists()
