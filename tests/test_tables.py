"""Every orderable column of every table is sorted both ways, over real rows."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from importlib import import_module
from pathlib import Path
from typing import Any

import django_tables2 as tables
import pytest
from django.db.models import Count
from django.urls import reverse

from core.models import Event, User
from core.pdf import PdfError
from core.views import base
from inventory.models import Instrument, Role
from inventory.selectors.register import for_list
from inventory.selectors.setup import schools_with_counts
from inventory.tables import InstrumentTable, PeopleTable, SchoolTable
from loans.models import LedgerEntry, Loan, Student
from loans.selectors.ledger import with_balances
from loans.tables import BalanceTable, EntryTable, LoanTable, StudentTable
from repairs.models import Job
from repairs.tables import ClosedJobTable
from tests.factories import NOW, TODAY, make_instrument, make_room, make_school, make_user
from tests.loans.makers import make_entry, make_loan
from tests.repairs.makers import make_job
from tests.test_visibility import text_of

ROOT = Path(__file__).resolve().parent.parent
APPS = ("core", "inventory", "repairs", "loans", "desk")

MAKERS: dict[type[Any], Callable[[], Any]] = {
    InstrumentTable: lambda: InstrumentTable(for_list(Instrument.objects.all(), today=TODAY), today=TODAY),
    PeopleTable: lambda: PeopleTable(User.objects.all(), roles_of={}),
    SchoolTable: lambda: SchoolTable(schools_with_counts()),
    LoanTable: lambda: LoanTable(
        Loan.objects.select_related("instrument__school", "student"), today=TODAY, named_schools=frozenset()
    ),
    StudentTable: lambda: StudentTable(
        Student.objects.select_related("school").annotate(out=Count("loans")).with_guardian()
    ),
    BalanceTable: lambda: BalanceTable(with_balances(Student.objects.select_related("school"))),
    EntryTable: lambda: EntryTable(LedgerEntry.objects.select_related("student", "school", "actor", "approved_by")),
    ClosedJobTable: lambda: ClosedJobTable(Job.objects.select_related("instrument__school", "bench", "play_test")),
}


def all_tables(base: type[Any] = tables.Table) -> set[type[Any]]:
    """The tables of the rooms; a test may have tables of its own. A base without columns is none."""
    for app in APPS:
        if (ROOT / app / "tables.py").exists():
            import_module(f"{app}.tables")
    found = {table for child in base.__subclasses__() for table in (child, *all_tables(child))}
    ours = {table for table in found if table.__module__.partition(".")[0] in APPS and table.base_columns}
    return {table for table in ours if table.__module__ != "desk.views.look"}  # a sample without rows of a model


CASES = [
    (table, name) for table in MAKERS for name, column in table.base_columns.items() if column.orderable is not False
]


def test_every_table_is_tried():
    assert all_tables() == set(MAKERS)


@pytest.fixture(scope="module")
def _rows(shared_rows):
    room = make_room()
    for kind in ("tuba", "flute", "trumpet"):
        make_instrument(kind_code=kind, school=room.school, room=room if kind == "flute" else None)
    for school in (room.school, make_school()):
        make_entry(student=make_loan(school=school).student)
        make_job(school=school)


@pytest.mark.usefixtures("_rows", "db")
@pytest.mark.parametrize(("table", "name"), CASES, ids=[f"{table.__name__}-{name}" for table, name in CASES])
def test_every_column_that_can_be_sorted_sorts_both_ways(table, name):
    up, down = MAKERS[table](), MAKERS[table]()
    up.order_by, down.order_by = name, f"-{name}"
    up_pks, down_pks = ([row.record.pk for row in one.rows] for one in (up, down))
    assert sorted(up_pks) == sorted(down_pks)
    assert len(up_pks) > 1
    for rows in (up, down):
        assert len(list(rows.as_values())) == len(up_pks) + 1  # and the headings


@pytest.mark.usefixtures("_rows", "db")
@pytest.mark.parametrize("table", MAKERS, ids=lambda table: table.__name__)
def test_a_list_taken_along_holds_words_days_and_amounts_and_no_markup(table):
    names, lines = MAKERS[table]().file_rows()
    cells = [cell for line in lines for cell in line]
    assert len(names) * len(MAKERS[table]().data) == len(cells)
    assert [cell for cell in cells if isinstance(cell, str) and re.search(r"<\w|&\w+;|\$\d", cell)] == []
    if table in {ClosedJobTable, LoanTable, EntryTable}:  # on a page these days are words
        assert any(isinstance(cell, date) for cell in cells)


LISTS = ("inventory:list", "inventory:schools", "inventory:people", "repairs:jobs", "loans:balances", "loans:journal")


@pytest.mark.page
@pytest.mark.usefixtures("_rows", "db")
@pytest.mark.parametrize("name", LISTS)
def test_each_list_is_taken_along_as_a_file_that_another_reader_opens_and_the_log_says_so(name, client):
    client.force_login(make_user(Role.ADMINISTRATOR, Role.AUDITOR))
    Job.objects.update(closed_at=NOW, ended_because="Too dear")
    address = reverse(name)
    asked = {"state": "closed"} if name == "repairs:jobs" else {"state": ""}
    shown = client.get(address, asked)
    forms = re.findall(r"[?&;]file=(\w+)", shown.text)
    assert "pdf" in forms
    assert client.get(address, asked | {"file": "exe"}).headers["Content-Type"].startswith("text/html")
    for form in forms:
        answer = client.get(address, asked | {"file": form})
        assert f".{form}" in answer.headers["Content-Disposition"]
        assert len(text_of(answer)) > 20
    logged = Event.objects.filter(act="exported").values_list("after__form", flat=True)
    assert sorted(logged) == sorted(forms)


@pytest.mark.page
@pytest.mark.usefixtures("_rows", "db")
def test_a_list_too_long_for_paper_says_so_and_leaves_nothing(client, monkeypatch):
    monkeypatch.setattr(base, "MOST_PRINTED", 1)
    client.force_login(make_user(Role.ADMINISTRATOR))
    answer = client.get(reverse("inventory:people"), {"file": "pdf", "q": "person"}, follow=True)
    assert "too many to print" in answer.text
    assert answer.request["QUERY_STRING"] == "q=person"
    assert not Event.objects.filter(act="exported").exists()


@pytest.mark.page
@pytest.mark.usefixtures("_rows", "db")
def test_a_list_that_cannot_be_laid_out_says_that_and_not_that_it_is_long(client, monkeypatch):
    def fails(**_given):
        raise PdfError("no")

    monkeypatch.setattr(base, "list_pdf", fails)
    client.force_login(make_user(Role.ADMINISTRATOR))
    answer = client.get(reverse("inventory:people"), {"file": "pdf"}, follow=True)
    assert "could not be laid out" in answer.text
    assert not Event.objects.filter(act="exported").exists()
