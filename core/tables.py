"""The base of every table: cards on a phone, and a stable order."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from html import unescape
from inspect import signature
from typing import Any

import django_tables2 as tables
from django.core.exceptions import FieldDoesNotExist
from django.core.paginator import EmptyPage, PageNotAnInteger
from django.http import HttpRequest
from django.utils import timezone
from django.utils.html import conditional_escape, format_html, strip_tags
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django_tables2.data import TableQuerysetData

from core.days import full_day
from core.sheets import OutValue

FILE_FORMS = ("xlsx", "csv", "pdf")  # ?file= in the address of a list
SHEET_FORMS = ("csv", "xlsx")  # of what is too wide for paper
MANY = 5000  # rows that take longer to sort than to be asked for twice
CARD_TITLE = {"td": {"class": "card-title"}}
FIGURE = {"td": {"class": "n"}, "th": {"class": "n"}}
# On a phone, a row is a card of three lines: title and what is beside it; status; the rest, small. In a table of class
# "table-lines" it is two lines, and nothing of the rest. "named": with its heading.
CARD_BESIDE = {"td": {"class": "card-beside"}}
CARD_SECOND = {"td": {"class": "card-second"}}
CARD_SMALL = {"td": {"class": "card-small"}}
CARD_SMALL_NAMED = {"td": {"class": "card-small card-named"}}
WIDE = {"td": {"class": "card-hide wide nowrap"}, "th": {"class": "wide"}}  # neither on a phone nor on a tablet


class DayColumn(tables.Column):  # type: ignore[misc]  # django-tables2 has no types
    """A date, or a moment's local date: Nov 3, 2026. The library's own column renders a template for every cell."""

    def render(self, value: date | datetime) -> str:
        return full_day(self.value(value))

    def value(self, value: date | datetime) -> date:
        """Return what stands in a file: the day itself."""
        return timezone.localtime(value).date() if isinstance(value, datetime) else value


class PickColumn(tables.Column):  # type: ignore[misc]
    """A checkbox by which a row is chosen for an act of ``components/picked_bar.html``; it is sent as ``number``."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            orderable=False,
            exclude_from_export=True,
            verbose_name=_("Select"),
            attrs={"td": {"class": "pick", "data-label": ""}, "th": {"class": "pick"}},
            **kwargs,
        )

    def render(self, value: str) -> str:
        label = gettext("Select %(number)s") % {"number": value}
        return format_html(
            '<input type="checkbox" form="picked" name="number" value="{}" aria-label="{}">', value, label
        )


class PagedRows(TableQuerysetData):  # type: ignore[misc]
    """Late row lookup: first a page's keys, which an index may cover, then the rows with their joins.

    A page in the second half is counted from the end, so that the last page costs no more than the first. Many rows
    sorted by what they belong to (a loan by its student) are looked for among the first few students alone, as the
    table says: no index of the rows is in the order of another table, and all would be joined and sorted for a page.
    """

    def __init__(self, data: Any, *, owners: Mapping[str, int]) -> None:
        super().__init__(data)
        self.owners = owners

    def __getitem__(self, key: Any) -> Any:
        if not isinstance(key, slice):
            return super().__getitem__(key)
        start, stop, count = key.start or 0, key.stop, len(self)
        keys = self.data.values_list("pk", flat=True)
        if self.data.ordered and stop is not None and start > count // 2:
            keys = self._keys(keys.reverse(), count - min(stop, count), count - start)[::-1]
        else:
            keys = self._keys(keys, start, stop)
        found = self.data.order_by()
        found.query.clear_where()  # the keys have passed it; the database might begin at it, and read a whole school
        rows = {row.pk: row for row in found.filter(pk__in=keys)}
        return [rows[pk] for pk in keys if pk in rows]

    def _keys(self, keys: Any, start: int, stop: int | None) -> list[Any]:
        first = str(next(iter(keys.query.order_by), "")).removeprefix("-")
        if stop is not None and first in self.owners and len(self) > MANY:
            some = list(self._of_first_owners(keys, way=first.rpartition("__")[0], most=self.owners[first])[start:stop])
            if len(some) == stop - start:  # enough: the rows of all others come after these
                return some
        return list(keys[start:stop])

    def _of_first_owners(self, keys: Any, *, way: str, most: int) -> Any:
        """The rows of the first owners in the order asked for, which ends with a unique column of theirs."""
        owner = keys.model
        for name in way.split("__"):
            owner = owner._meta.get_field(name).related_model
        order = [term.replace(f"{way}__", "", 1) for term in keys.query.order_by if f"{way}__" in term]
        owners = owner._default_manager.order_by(*order)
        owners = owners if keys.query.standard_ordering else owners.reverse()
        return keys.filter(**{f"{way}__in": owners.values("pk")[:most]})

    def set_count(self, count: int) -> None:
        """Set the count, if it is already known."""
        self._length = count


class Cells:
    """The cells of one column; what is the same for all of them is computed once."""

    def __init__(self, column: Any, *, table: BaseTable, sample: Any) -> None:
        self.column = column
        self.fixed = {"column": column.column, "bound_column": column, "table": table}
        self.wanted = [name for name in signature(column.render).parameters if name != "self"]
        attrs = column.attrs["td"]
        label = "" if "data-label" in attrs else format_html(' data-label="{}"', column.header)
        self.opening = format_html("<td{} {}", label, attrs.as_html())
        self.read = self._reader(sample)

    def _reader(self, sample: Any) -> Callable[[Any], Any]:
        """Return a function that reads the column's value from a record; choices are read as labels."""
        *way, last = self.column.accessor.bits
        try:
            field = self.column.accessor.get_field(sample) if hasattr(sample, "_meta") else None
        except FieldDoesNotExist:
            field = None
        if field is not None and getattr(field, "choices", None) and not way:
            labels = {value: str(label) for value, label in field.flatchoices}
            return lambda record: labels.get(value := getattr(record, last), value)
        return self._resolved

    def _resolved(self, record: Any) -> Any:
        try:
            return self.column.accessor.resolve(record, safe=True)
        except (AttributeError, KeyError, TypeError, ValueError):
            return None  # not a field: its render method provides the value

    def __call__(self, record: Any, row: Any) -> str:
        value = self.read(record)
        if value in self.column.column.empty_values:
            shown: Any = self.column.default
        else:
            given = {**self.fixed, "value": value, "record": record, "bound_row": row}
            shown = self.column.render(**{name: given[name] for name in self.wanted})
            if self.column.link:
                shown = self.column.link(shown, **given)
        empty = " data-empty" if shown in {"—", ""} else ""
        return f"{self.opening}{empty}>{conditional_escape(shown)}</td>"


class BaseTable(tables.Table):  # type: ignore[misc]
    """Ties in the sorted column are broken by a unique one, so that no row is lost between pages."""

    count_word = _("row")
    unique = "pk"
    # Columns of what a row belongs to, with how many of them surely have a page of rows between them. Such a column is
    # sorted by further ones of the same owner, the last of them unique.
    owners: Mapping[str, int] = {}

    class Meta:
        template_name = "components/table.html"
        attrs = {"class": "table"}

    choosable: Sequence[str] = ()  # columns that each person may hide
    is_kept = False  # somebody left the list other than it is at first
    files: Sequence[str] = ()  # as which files the page lets the whole list be taken along

    def __init__(self, data: Any, *args: Any, **kwargs: Any) -> None:
        super().__init__(PagedRows(data, owners=self.owners) if PagedRows.validate(data) else data, *args, **kwargs)

    @property
    def has_picks(self) -> bool:
        return "pick" in self.sequence and "pick" not in self.exclude

    @property
    def choices(self) -> list[tuple[str, Any, bool, bool]]:
        """The columns that may be hidden: name, heading, whether each is seen, and whether a phone has no room for it."""
        found = ((name, self.columns.columns[name]) for name in self.choosable)
        return [
            (name, column.header, name not in self.exclude, "card-hide" in column.attrs["td"].get("class", ""))
            for name, column in found
        ]

    def file_rows(self) -> tuple[list[str], Iterator[list[OutValue]]]:
        """Return the headings and all rows as a file holds them: words without markup, amounts and days as such."""
        lines = iter(self.as_values())
        return next(lines), ([_plain(cell) for cell in line] for line in lines)

    @property
    def order_by(self) -> Any:
        return super().order_by

    @order_by.setter
    def order_by(self, value: str | Iterable[str] | None) -> None:
        tables.Table.order_by.fset(self, value)
        rows: Any = getattr(self.data, "data", None)
        order = rows.query.order_by if hasattr(rows, "query") else ()
        if order and order[-1].removeprefix("-") != self.unique:
            self.data.data = rows.order_by(*order, self.unique)

    @property
    def body(self) -> Iterator[SafeString]:
        """The cells of each row of the page. The library works every cell out from the beginning, ten times slower."""
        cells: list[Cells] = []
        for row in self.paginated_rows:
            cells = cells or [Cells(column, table=self, sample=row.record) for column in self.columns]
            yield mark_safe("".join(cell(row.record, row) for cell in cells))  # noqa: S308  # each cell is escaped


def _plain(cell: Any) -> OutValue:
    if isinstance(cell, SafeString):
        cell = " ".join(unescape(strip_tags(cell.replace("<", " <"))).split())
    is_plain = cell is None or isinstance(cell, str | int | float | Decimal | date)
    return "" if cell == "—" else cell if is_plain else str(cell)


def show_page(table: BaseTable, request: HttpRequest, *, per_page: int, files: Sequence[str] = FILE_FORMS) -> None:
    """Sort and page the table as the address asks. How many rows a page has is ours: a fleet is never one page."""
    table.files = files
    tables.RequestConfig(request, paginate=False).configure(table)
    try:
        table.paginate(page=request.GET.get(table.prefixed_page_field) or 1, per_page=per_page)
    except PageNotAnInteger:
        table.page = table.paginator.page(1)
    except EmptyPage:
        table.page = table.paginator.page(table.paginator.num_pages)
