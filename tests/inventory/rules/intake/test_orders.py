"""A column's date order is settled by its rows, or asked."""

from __future__ import annotations

import pytest

from core.sheets import SheetRow
from inventory.rules.intake.orders import ColumnOrder, column_orders
from inventory.rules.intake.parse.dates import DateOrder, parse_date
from inventory.rules.intake.parse.reading import UnreadableError


@pytest.mark.parametrize(
    ("cells", "order", "text"),
    [
        (["1/2/2019", "8/15/2019", "3/4/2019"], DateOrder.MONTH_DAY, "8/15/2019"),
        (["1/2/2019", "15/8/2019", "3/4/2019"], DateOrder.DAY_MONTH, "15/8/2019"),
        (["1/2/2019", "3/4/19", "2019-08-01", "Aug 2019"], DateOrder.ASK, "1/2/2019"),
        (["15/8/2019", "8/15/2019", "3/4/2019"], DateOrder.ASK, "3/4/2019"),
        (["15/8/2019", "8/15/2019", "5/5/2019"], "", ""),
    ],
)
def test_one_day_above_twelve_settles_the_column_and_what_nothing_settles_is_asked(cells, order, text):
    found = column_orders([SheetRow(number, (cell,)) for number, cell in enumerate(cells, 2)], columns=[0])
    assert (found[0].order, found[0].text) == (order, text)


def test_a_column_without_dates_in_figures_has_no_order():
    assert column_orders([SheetRow(2, ("2019-08-01",)), SheetRow(3, ())], columns=[0, 1]) == {}
    assert ColumnOrder().order == ""


def test_a_settled_order_is_followed_without_a_remark_on_each_row():
    first = parse_date("3/4/2019", today=None, order=DateOrder.DAY_MONTH)
    other = parse_date("3/4/2019", today=None, order=DateOrder.MONTH_DAY)
    assert (str(first.value), first.note) == ("2019-04-03", "")
    assert (str(other.value), other.note) == ("2019-03-04", "")
    with pytest.raises(UnreadableError, match="may be 2019-03-04 or 2019-04-03"):
        parse_date("3/4/2019", today=None, order=DateOrder.ASK)
    assert str(parse_date("13/4/2019", today=None, order=DateOrder.ASK).value) == "2019-04-13"
