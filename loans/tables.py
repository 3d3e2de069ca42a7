"""Columns of the lists of loans and students."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html
from django.utils.translation import gettext, ngettext, pgettext_lazy
from django.utils.translation import gettext_lazy as _

from core.days import SHORT_DAYS, full_day, short_day
from core.money import dollars
from core.tables import (
    CARD_BESIDE,
    CARD_SECOND,
    CARD_SMALL,
    CARD_SMALL_NAMED,
    CARD_TITLE,
    FIGURE,
    WIDE,
    BaseTable,
    DayColumn,
    PickColumn,
)
from inventory.rules.playing import level_name
from loans.models import LedgerEntry, Loan, Student
from loans.rules.ledger import in_dollars

SECOND_END = {"td": {"class": "card-second card-end nowrap"}}
GRADE = {"td": {"class": "card-beside card-end quiet"}}


def grade_words(borrower: Student) -> str:
    """Return the grade of a student; of anybody else, who that is."""
    words: dict[str, Any] = {Student.Who.STAFF: _("staff"), Student.Who.GROUP: _("group")}
    return str(words.get(borrower.who, borrower.grade or "—"))


def grade_cell(borrower: Student) -> str:
    """Return the grade; on a phone, where no heading is seen, it is said what the number is."""
    words = grade_words(borrower)
    if words == "—" or not borrower.has_guardians:
        return words
    return format_html('<span class="on-card">{} </span>{}', gettext("Grade"), words)


class LoanTable(BaseTable):
    """``today`` decides what is late; names are shown at ``named_schools`` only.

    ``links`` are the words about the link of each loan that has one, set once it is known which rows the page has.
    """

    links: Mapping[int, str] = {}

    pick = PickColumn(accessor="instrument__asset_number")
    instrument = tables.Column(
        accessor="instrument__asset_number",
        verbose_name=_("Instrument"),
        attrs=CARD_TITLE,
        linkify=lambda record: reverse("loans:loan", args=[record.pk]),
    )
    kind = tables.Column(
        accessor="instrument__kind__name",
        order_by=("instrument__kind_code", "instrument__asset_number"),
        verbose_name=_("Kind"),
        attrs=CARD_BESIDE,
    )
    student = tables.Column(
        accessor="student__sort_name",
        order_by=("student__sort_name", "student__pk"),
        verbose_name=_("Student"),
        attrs=CARD_SECOND,
    )
    grade = tables.Column(
        accessor="student__grade",
        verbose_name=_("Grade"),
        empty_values=(),
        attrs=GRADE,
    )
    school = tables.Column(
        accessor="school__name",
        order_by=("school__name", "school__pk"),
        verbose_name=_("School"),
        attrs={"td": {"class": "card-hide"}},
    )
    lent_on = DayColumn(verbose_name=_("Since"), attrs=WIDE)
    due_on = tables.Column(verbose_name=_("Due"), attrs=SECOND_END)
    returned_at = DayColumn(verbose_name=_("Returned"), attrs={"td": {"class": "card-hide nowrap"}})
    link = tables.Column(
        empty_values=(),
        orderable=False,
        verbose_name=_("Link to sign"),
        attrs={"td": {"class": "card-second card-less"}},
    )

    class Meta(BaseTable.Meta):
        model = Loan
        attrs = {"class": "table table-lines"}
        fields = (
            "pick",
            "instrument",
            "kind",
            "student",
            "grade",
            "school",
            "lent_on",
            "due_on",
            "returned_at",
            "link",
        )
        order_by = ("due_on",)
        empty_text = _("No loans match")

    count_word = _("loan")
    owners = {
        "instrument__asset_number": 500, "instrument__kind_code": 500, "school__name": 2,
        "student__sort_name": 500,
    }  # fmt: skip

    def __init__(self, *args: Any, today: date, named_schools: frozenset[int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.named_schools = named_schools

    def hide_names(self) -> None:
        """Keep the list from being sorted by names that are not shown: their order would tell who is who."""
        self.columns["student"].column.orderable = False

    def render_pick(self, value: str, column: PickColumn, record: Loan) -> str:
        return PickColumn.render(column, value) if record.is_open else ""

    def render_student(self, value: str, record: Loan) -> str:
        return value if record.school_id in self.named_schools else gettext("a student")

    def render_grade(self, record: Loan) -> str:
        return grade_cell(record.student)

    def value_grade(self, record: Loan) -> str:
        return grade_words(record.student)

    def render_link(self, record: Loan) -> str:
        return self.links.get(record.pk) or (gettext("No link") if record.student.has_guardians else "—")

    def render_due_on(self, value: date, record: Loan) -> str:
        days = (self.today - value).days
        if record.returned_at is None and days > 0:
            late = ngettext("%(days)d day late", "%(days)d days late", days) % {"days": days}
            due = short_day(value) if days < SHORT_DAYS else full_day(value)
            return format_html('{}, <span class="late">{}</span>', due, late)
        return full_day(value)


class StudentTable(BaseTable):
    name = tables.Column(
        accessor="sort_name",
        order_by=("sort_name", "pk"),
        verbose_name=_("Name"),
        attrs=CARD_TITLE,
        linkify=lambda record: reverse("loans:student", args=[record.pk]),
    )
    grade = tables.Column(verbose_name=_("Grade"), empty_values=(), attrs=GRADE)
    level = tables.Column(verbose_name=_("Plays at"), attrs=CARD_SECOND)
    school = tables.Column(
        accessor="school__name", verbose_name=_("School"), attrs={"td": {"class": "card-second card-less"}}
    )
    guardian_name = tables.Column(
        accessor="first_guardian_name",
        order_by=("first_guardian_name", "pk"),
        verbose_name=_("Guardian"),
        attrs={"td": {"class": "card-hide"}},
    )
    out = tables.Column(
        verbose_name=_("Out now"), attrs={"td": {"class": "n card-second card-end card-named"}, "th": FIGURE["th"]}
    )

    class Meta(BaseTable.Meta):
        model = Student
        attrs = {"class": "table table-lines"}
        fields = ("name", "grade", "level", "school", "guardian_name", "out")
        order_by = ("name",)
        empty_text = _("No students match")

    count_word = _("student")

    def render_grade(self, record: Student) -> str:
        return grade_cell(record)

    def value_grade(self, record: Student) -> str:
        return grade_words(record)

    def render_level(self, value: str) -> str:
        return level_name(value)

    def render_name(self, value: str) -> str:
        return value or gettext("erased")


class BalanceTable(BaseTable):
    """Students with an account, as ``with_balances`` reads them."""

    name = tables.Column(
        accessor="sort_name",
        order_by=("sort_name", "pk"),
        verbose_name=_("Student"),
        attrs=CARD_TITLE,
        linkify=lambda record: reverse("loans:account", args=[record.pk]),
    )
    grade = tables.Column(verbose_name=_("Grade"), attrs={"td": {"class": "card-second card-named"}})
    school = tables.Column(
        accessor="school__name", order_by=("school__name", "pk"), verbose_name=_("School"), attrs=CARD_SECOND
    )
    last_on = DayColumn(verbose_name=_("Last entry"), attrs=SECOND_END)
    owed = tables.Column(
        verbose_name=_("Balance"), attrs={"td": {"class": "n card-beside card-end strong"}, "th": FIGURE["th"]}
    )

    class Meta(BaseTable.Meta):
        model = Student
        attrs = {"class": "table table-lines"}
        fields = ("name", "grade", "school", "last_on", "owed")
        order_by = ("-owed",)
        empty_text = _("No accounts match")

    count_word = _("account")

    def render_name(self, value: str, record: Student) -> str:
        return value or str(record)

    def render_owed(self, value: int) -> str:
        return dollars(in_dollars(value))

    def value_owed(self, value: int) -> Decimal:
        return in_dollars(value)


class EntryTable(BaseTable):
    """Entries of the ledger, day by day."""

    on = DayColumn(verbose_name=_("Date"), attrs={"td": {"class": "card-second nowrap"}})
    student = tables.Column(
        accessor="student__sort_name",
        order_by=("student__sort_name", "student__pk"),
        verbose_name=_("Student"),
        attrs=CARD_TITLE,
        linkify=lambda record: reverse("loans:account", args=[record.student_id]),
    )
    sort = tables.Column(verbose_name=_("What"), attrs=CARD_SMALL)
    school = tables.Column(
        accessor="school__name", order_by=("school__name", "pk"), verbose_name=_("School"), attrs=CARD_SMALL
    )
    actor = tables.Column(
        accessor="actor__name", order_by=("actor__name", "pk"), verbose_name=_("Entered by"), attrs=CARD_SMALL_NAMED
    )
    approved_by = tables.Column(
        accessor="approved_by__name", order_by=("approved_by__name", "pk"), verbose_name=_("Approved by"),
        attrs=CARD_SMALL_NAMED,
    )  # fmt: skip
    pk = tables.Column(
        verbose_name=pgettext_lazy("ledger", "Entry"), attrs={"td": {"class": "n card-hide"}, "th": FIGURE["th"]}
    )
    amount = tables.Column(attrs={"td": {"class": "n card-beside"}, "th": FIGURE["th"]}, verbose_name=_("Amount"))

    class Meta(BaseTable.Meta):
        model = LedgerEntry
        attrs = {"class": "table table-dense"}
        fields = ("on", "student", "sort", "school", "actor", "approved_by", "pk", "amount")
        order_by = ("-on",)
        empty_text = _("No entries match")

    count_word = _("entry,entries")

    def render_student(self, value: str, record: LedgerEntry) -> str:
        return value or str(record.student)

    def render_amount(self, value: Decimal) -> str:
        return dollars(value)

    def value_amount(self, value: Decimal) -> Decimal:
        return value
