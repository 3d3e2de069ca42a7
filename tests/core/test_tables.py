from __future__ import annotations

import django_tables2 as tables
import pytest

from core.models import User
from core.tables import BaseTable
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
