"""The base of every list: cards on a phone, an order that never wavers, columns only."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import django_tables2 as tables

CARD_TITLE = {"td": {"class": "card-title"}}
FIGURE = {"td": {"class": "n"}, "th": {"class": "n"}}
# On a phone a row is a card of three lines: beside its title; how it stands; the rest, small ("named" with its heading).
CARD_BESIDE = {"td": {"class": "card-beside"}}
CARD_SECOND = {"td": {"class": "card-second"}}
CARD_SMALL = {"td": {"class": "card-small"}}
CARD_SMALL_NAMED = {"td": {"class": "card-small card-named"}}


class BaseTable(tables.Table):  # type: ignore[misc]  # django-tables2 has no types
    """Rows alike in the sorted column come by primary key, so that no row hides between two pages."""

    count_word = "row"

    class Meta:
        template_name = "components/table.html"
        attrs = {"class": "table"}

    @property
    def order_by(self) -> Any:
        return super().order_by

    @order_by.setter
    def order_by(self, value: str | Iterable[str] | None) -> None:
        tables.Table.order_by.fset(self, value)
        rows: Any = getattr(self.data, "data", None)
        if hasattr(rows, "query") and rows.query.order_by and "pk" not in rows.query.order_by:
            self.data.data = rows.order_by(*rows.query.order_by, "pk")
