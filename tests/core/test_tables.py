from __future__ import annotations

import django_tables2 as tables
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from core.models import User
from core.tables import BaseTable, show_page
from tests.factories import make_user

pytestmark = pytest.mark.django_db


class NameTable(BaseTable):
    name = tables.Column()
    username = tables.Column()

    class Meta(BaseTable.Meta):
        model = User
        fields = ("name", "username")
        order_by = ("name",)


@pytest.mark.parametrize("order", ["name", "-name", "username"])
def test_rows_alike_come_by_primary_key(order):
    table = NameTable(User.objects.all(), order_by=order)
    assert table.data.data.query.order_by[-1] == "pk"


def test_no_row_hides_between_two_pages_of_equal_names():
    people = [make_user(name="Same Name").pk for _ in range(7)]
    seen = []
    for page in (1, 2, 3):
        table = NameTable(User.objects.all())
        table.paginate(page=page, per_page=3)
        seen += [row.record.pk for row in table.paginated_rows]
    assert seen == sorted(people)


def test_a_list_given_as_plain_rows_keeps_its_order():
    table = NameTable([{"name": "b", "username": "1"}, {"name": "a", "username": "2"}], order_by="name")
    assert [row.get_cell("name") for row in table.rows] == ["a", "b"]


def test_the_last_page_is_read_from_the_end_and_every_row_once():
    people = [make_user(name=f"Name {number % 3}").pk for number in range(11)]
    seen = []
    for page in (1, 2, 3, 4):
        table = NameTable(User.objects.all())
        with CaptureQueriesContext(connection) as caught:
            table.paginate(page=page, per_page=3)
            seen += [row.record.pk for row in table.paginated_rows]
    assert seen == [pk for third in range(3) for pk in people[third::3]]
    keys = next(one["sql"] for one in caught if "LIMIT" in one["sql"])
    assert "DESC" in keys
    assert "OFFSET" not in keys, "the last page costs what the first does"


def test_a_page_takes_its_keys_and_its_rows_whatever_their_number():
    for count in (1, 8):
        for _ in range(count):
            make_user()
        with CaptureQueriesContext(connection) as caught:
            table = NameTable(User.objects.all())
            table.paginate(page=1, per_page=3)
            list(table.body)
        assert len(caught) == 3  # counted, keys, rows


def test_the_rows_of_a_page_are_read_by_their_keys_alone():
    wanted, _ = make_user(name="Wanted"), make_user(name="Other")
    table = NameTable(User.objects.filter(name="Wanted"))
    with CaptureQueriesContext(connection) as caught:
        table.paginate(page=1, per_page=3)
        assert [row.record for row in table.paginated_rows] == [wanted]
    counted, keys, rows = (one["sql"].partition("WHERE")[2] for one in caught)
    assert "Wanted" in counted
    assert "Wanted" in keys
    assert "Wanted" not in rows
    assert list(table.data.data) == [wanted], "the table's own rows stay filtered"


def test_a_cell_says_what_the_library_would_say():
    user = make_user(name="<b>Ann</b>")
    (row,) = list(NameTable(User.objects.filter(pk=user.pk)).body)
    assert "&lt;b&gt;Ann&lt;/b&gt;" in row
    assert f">{user.username}</td>" in row
    (bare,) = list(NameTable([{"name": "", "username": None}]).body)
    assert bare.count("data-empty") == 2
    assert bare.count("—") == 2


@pytest.mark.parametrize(("asked", "first"), [("", 0), ("page=2", 2), ("page=-1", 2), ("page=99", 2), ("page=x", 0)])
@pytest.mark.parametrize("more", ["", "per_page=-1", "per_page=0", "per_page=999999999999999999999"])
def test_a_page_has_the_rows_that_we_say_whatever_the_address_asks(rf, asked, first, more):
    table = NameTable([{"name": str(number), "username": ""} for number in range(4)])
    show_page(table, rf.get(f"/?{asked}&{more}"), per_page=2)
    assert [row.record["name"] for row in table.paginated_rows] == [str(first), str(first + 1)]
