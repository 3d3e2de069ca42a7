"""Columns: every one sorts, names are shown only where they may be read."""

from __future__ import annotations

from datetime import timedelta
from itertools import product

import pytest
from django.db import connection
from django.db.models import Count
from django.test import RequestFactory
from django.test.utils import CaptureQueriesContext
from django.utils.html import strip_tags
from django_tables2 import RequestConfig

from loans.models import Loan, Student
from loans.tables import LoanTable, StudentTable
from tests.factories import TODAY, make_ready_instrument, make_school, make_student
from tests.loans.makers import make_loan


def loan_table(**options):
    fields = {"today": TODAY, "named_schools": frozenset()} | options
    return LoanTable(Loan.objects.for_table(), **fields)


def sortable(table_class) -> list[str]:
    return [name for name, column in table_class.base_columns.items() if column.orderable is not False]


def test_loans_sort_by_each_column(dear_loans, db):
    for column, sign in product(sortable(LoanTable), ("", "-")):
        table = loan_table()
        RequestConfig(RequestFactory().get("/", {"sort": f"{sign}{column}"})).configure(table)
        assert len(list(table.rows)) == len(dear_loans), (column, sign)


@pytest.mark.sqlite
@pytest.mark.django_db
@pytest.mark.parametrize(
    ("sort", "index"), [("due_on", "loan_open_due"), ("-student", "loan_open_between"), ("instrument", "loan_one_open")]
)
def test_open_loans_are_found_by_an_index_of_theirs(sort, index):
    rows = LoanTable(Loan.objects.open(), today=TODAY, named_schools=frozenset(), order_by=sort).data.data
    plan = rows.values_list("pk", flat=True)[:50].explain()
    assert index in plan
    assert ("TEMP B-TREE" in plan) == (sort == "-student"), f"sorted although an index is in this order: {plan}"


@pytest.fixture(scope="module")
def dear_loans(shared_rows) -> list[Loan]:
    """Loans of students alike in name, at schools alike in name."""
    schools = [make_school(name=name) for name in ("Oak", "Elm", "Oak", "Ash")]
    students = [make_student(school=school, name=name) for school in schools for name in ("Ann", "Bob", "Ann")]
    kinds = ("flute", "trumpet", "flute", "clarinet_bb", "trumpet")
    return [
        make_loan(instrument=make_ready_instrument(school=student.school, kind_code=kinds[number % 5]), student=student)
        for number, student in enumerate(students)
    ]


@pytest.fixture
def many_loans(dear_loans, db, monkeypatch) -> list[Loan]:
    """Treated as more than can be sorted for a page; who takes these reads only."""
    monkeypatch.setattr("core.tables.MANY", 0)
    return dear_loans


@pytest.mark.parametrize("column", ["instrument", "kind", "student", "school"])
def test_many_loans_sorted_by_what_they_belong_to_come_in_the_same_order_page_by_page(many_loans, monkeypatch, column):
    for sign, enough in product(("", "-"), (1, 2, 500)):
        monkeypatch.setattr(LoanTable, "owners", dict.fromkeys(LoanTable.owners, enough))
        seen = []
        for number in (1, 2, 3):
            table = loan_table(order_by=f"{sign}{column}")
            table.paginate(page=number, per_page=5)
            seen += [row.record.pk for row in table.paginated_rows]
        assert seen == list(table.data.data.values_list("pk", flat=True)), (sign, enough)
        assert sorted(seen) == sorted(loan.pk for loan in many_loans), (sign, enough)


@pytest.mark.usefixtures("many_loans")
@pytest.mark.parametrize(
    ("sort", "number", "way"), [("student", 1, "ASC"), ("-student", 1, "DESC"), ("-student", 6, "ASC")]
)
def test_the_first_of_many_loans_are_looked_for_among_the_first_students(sort, number, way):
    table = loan_table(order_by=sort)
    with CaptureQueriesContext(connection) as caught:
        table.paginate(page=number, per_page=2)
        assert len(list(table.paginated_rows)) == 2
    [keys] = [one["sql"] for one in caught if "LIMIT 2" in one["sql"]]
    assert way in keys.partition("IN (SELECT")[2].partition("LIMIT 500")[0]
    assert "OFFSET" not in keys


@pytest.mark.sqlite
@pytest.mark.parametrize(
    ("column", "index"),
    [("instrument", "inventory_instrument"), ("kind", "instrument_kind_list"), ("student", "student_sorted")],
)
@pytest.mark.usefixtures("many_loans")
def test_the_first_owners_come_from_an_index(column, index):
    table = loan_table(order_by=column)
    with CaptureQueriesContext(connection) as caught:
        table.paginate(page=1, per_page=2)
        list(table.paginated_rows)
    [keys] = [one["sql"] for one in caught if "LIMIT 500" in one["sql"]]
    with connection.cursor() as cursor:
        cursor.execute(f"EXPLAIN QUERY PLAN {keys}")
        plan = "\n".join(row[3] for row in cursor.fetchall())
    owners = next(line for line in plan.splitlines() if line.startswith("SCAN"))
    assert "COVERING INDEX" in owners
    assert index in owners


def test_students_sort_by_each_column(dear_loans, db):
    for column in sortable(StudentTable):
        table = StudentTable(Student.objects.annotate(out=Count("loans")).with_guardian().select_related("school"))
        RequestConfig(RequestFactory().get("/", {"sort": column})).configure(table)
        assert len(list(table.rows)) == len(dear_loans), column


def test_a_name_is_shown_only_where_it_may_be_read(school):
    loan = make_loan(school=school)
    only = Loan.objects.for_table().filter(pk=loan.pk)
    [hidden] = LoanTable(only, today=TODAY, named_schools=frozenset()).rows
    [shown] = LoanTable(only, today=TODAY, named_schools=frozenset({school.pk})).rows
    assert hidden.get_cell("student") == "a student"
    assert shown.get_cell("student") == loan.student.sort_name


def test_a_late_loan_says_by_how_much(db):
    only = Loan.objects.for_table().filter(pk=make_loan(due_on=TODAY).pk)
    for days, said in [(0, "Sep 14, 2026"), (1, "1 day late"), (3, "3 days late")]:
        [row] = LoanTable(only, today=TODAY + timedelta(days=days), named_schools=frozenset()).rows
        assert strip_tags(row.get_cell("due_on")).endswith(said)
