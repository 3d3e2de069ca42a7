"""Columns: every one sorts, names are shown only where they may be read."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db.models import Count
from django.test import RequestFactory
from django.utils.html import strip_tags
from django_tables2 import RequestConfig

from loans.models import Loan, Student
from loans.tables import LoanTable, StudentTable
from tests.factories import TODAY, make_student
from tests.loans.makers import make_loan


def loan_table(**options):
    fields = {"today": TODAY, "named_schools": frozenset()} | options
    return LoanTable(Loan.objects.for_table(), **fields)


def sortable(table_class) -> list[str]:
    return [name for name, column in table_class.base_columns.items() if column.orderable is not False]


@pytest.mark.parametrize("column", sortable(LoanTable))
@pytest.mark.parametrize("sign", ["", "-"])
def test_loans_sort_by(db, column, sign):
    make_loan()
    table = loan_table()
    RequestConfig(RequestFactory().get("/", {"sort": f"{sign}{column}"})).configure(table)
    assert len(list(table.rows)) == 1


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


@pytest.mark.parametrize("column", sortable(StudentTable))
def test_students_sort_by(db, column):
    make_student()
    table = StudentTable(Student.objects.annotate(out=Count("loans")).select_related("school"))
    RequestConfig(RequestFactory().get("/", {"sort": column})).configure(table)
    assert len(list(table.rows)) == 1


def test_a_name_is_shown_only_where_it_may_be_read(school):
    loan = make_loan(school=school)
    [hidden] = loan_table().rows
    [shown] = loan_table(named_schools=frozenset({school.pk})).rows
    assert hidden.get_cell("student") == "a student"
    assert shown.get_cell("student") == loan.student.name


@pytest.mark.parametrize(("days", "said"), [(0, "Sep 14, 2026"), (1, "1 day late"), (3, "3 days late")])
def test_a_late_loan_says_by_how_much(db, days, said):
    make_loan(due_on=TODAY)
    [row] = loan_table(today=TODAY + timedelta(days=days)).rows
    assert strip_tags(row.get_cell("due_on")).endswith(said)
