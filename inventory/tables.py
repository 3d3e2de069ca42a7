"""Columns of the register and of the district's set-up."""

from __future__ import annotations

from datetime import date, datetime
from functools import lru_cache
from typing import Any

import django_tables2 as tables
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.translation import get_language, gettext, ngettext
from django.utils.translation import gettext_lazy as _

from core.days import SHORT_DAYS, month_and_year, short_day
from core.models import User
from core.tables import (
    CARD_BESIDE,
    CARD_SECOND,
    CARD_SMALL_NAMED,
    CARD_TITLE,
    WIDE,
    BaseTable,
    DayColumn,
    PickColumn,
)
from inventory.models import Instrument, Readiness, School, Whereabouts
from inventory.rules.readiness import AT_HAND
from inventory.selectors.holders import Holder, holders
from inventory.selectors.state import StateWords, may_go_out, reasons_today, state_words_of

COUNT = {"td": {"class": "n card-small card-named"}, "th": {"class": "n"}}
KEPT = {"td": {"class": "card-hide keep"}}  # as wide as most names are; longer ones wrap
KEPT_SHORT = {"td": {"class": "card-hide keep-short nowrap"}}
OUT_WORDS = {
    Readiness.MAY_GO_OUT: _("may go out"),
    Readiness.WITH_LIMITS: _("with limits"),
    Readiness.STAYS_IN: _("stays in"),
}


@lru_cache(maxsize=16)
def verdict_badge(verdict: str, language: str) -> str:
    """The badge of a verdict; there are four, in each language, and a page shows fifty."""
    del language  # only what is remembered hangs on it
    return render_to_string("components/status_badge.html", {"verdict": verdict})


def first_of(why: list[str]) -> str:
    """The first reason, and how many more there are."""
    if len(why) < 2:
        return "".join(why)
    return gettext("%(reason)s And %(count)d more.") % {"reason": why[0], "count": len(why) - 1}


def holder_words(holder: Holder, *, today: date) -> str:
    """Who has it, as far as that is said, and how late it is."""
    words = gettext("With a student")
    if holder.name:
        words = gettext("With %(name)s") % {"name": holder.name}
        if holder.grade:
            words = gettext("With %(name)s, grade %(grade)s") % {"name": holder.name, "grade": holder.grade}
    shown = format_html(
        '<span><a class="link-quiet" href="{}">{}</a></span>', reverse("loans:loan", args=[holder.loan]), words
    )
    days = (today - holder.due_on).days
    if days <= 0:
        return shown
    late = ngettext("%(days)d day late", "%(days)d days late", days) % {"days": days}
    return format_html('{}, <span class="late">{}</span>', shown, late)


class InstrumentTable(BaseTable):
    """The register. ``today`` says whether an inspection has aged out meanwhile, or a loan is late.

    ``holders`` says who has what is out; it is read for the rows of the page, once they are known.
    """

    pick = PickColumn(accessor="asset_number")
    asset_number = tables.Column(
        verbose_name=_("Number"),
        attrs=CARD_TITLE,
        linkify=lambda record: reverse("desk:instrument", args=[record.asset_number]),
    )
    kind = tables.Column(accessor="kind__name", order_by=("kind_code",), verbose_name=_("Kind"), attrs=CARD_BESIDE)
    maker = tables.Column(verbose_name=_("Maker"), order_by=("maker", "model"), attrs=WIDE)
    serial = tables.Column(verbose_name=_("Serial"), attrs=KEPT_SHORT)
    school = tables.Column(accessor="school__name", verbose_name=_("School"), attrs=KEPT)
    room = tables.Column(
        accessor="room__name", verbose_name=_("Room"), attrs={"td": {"class": "card-second card-less"}}
    )
    whereabouts = tables.Column(verbose_name=_("Where"), attrs=CARD_SECOND)
    verdict = tables.Column(verbose_name=_("Verdict"), attrs={"td": {"class": "card-beside card-end"}})
    readiness = tables.Column(
        verbose_name=_("May go out"),
        order_by=("readiness_today",),
        attrs={"td": {"class": "card-second card-end"}},
    )
    seen_at = tables.Column(verbose_name=_("Last seen"), attrs=WIDE)

    class Meta(BaseTable.Meta):
        model = Instrument
        fields = (
            "pick", "asset_number", "kind", "maker", "serial", "school", "room", "whereabouts", "verdict", "readiness", "seen_at",
        )  # fmt: skip
        order_by = ("asset_number",)
        attrs = {"class": "table table-dense table-lines"}
        empty_text = _("No instrument fits")

    count_word = _("instrument")
    unique = "asset_number"

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.holders: dict[int, Holder] = {}
        self.words: dict[int, StateWords] = {}

    def read_holders(self, user: Any) -> None:
        """Read who has the instruments of the page that are out. One query where one of them is."""
        rows = [row.record for row in self.paginated_rows]
        out = [row.pk for row in rows if row.whereabouts == Whereabouts.WITH_STUDENT]
        self.holders = holders().of(user, out) if out else {}

    def render_whereabouts(self, value: str, record: Instrument) -> str:
        return holder_words(self.holders[record.pk], today=self.today) if record.pk in self.holders else value

    def render_seen_at(self, value: datetime) -> str:
        """The day, or of long ago the month: a whole date would widen every row."""
        day = timezone.localdate(value)
        return short_day(day) if (self.today - day).days < SHORT_DAYS else month_and_year(day)

    def render_kind(self, value: str, record: Instrument) -> str:
        """On a tablet the maker stands below the kind, instead of in a column."""
        return format_html('{}<span class="under">{}</span>', value, self.render_maker(record))

    def value_kind(self, value: str) -> str:
        return value

    def render_maker(self, record: Instrument) -> str:
        return " ".join(filter(None, (record.maker, record.model))) or "—"

    def render_room(self, value: str, record: Instrument) -> str:
        return f"{value}, {record.place}" if record.place else value

    def render_verdict(self, value: str, record: Instrument) -> str:
        return verdict_badge(record.verdict, get_language())

    def render_readiness(self, record: Instrument) -> str:
        """Where it could go out from, whether it may; the first reason of what stays in. Elsewhere nothing."""
        if record.whereabouts not in AT_HAND:
            return "—"
        if may_go_out(record, today=self.today):
            return str(OUT_WORDS[Readiness(record.readiness)])
        if record.pk not in self.words:
            self.words = state_words_of(row.record for row in self.paginated_rows)
        reasons = reasons_today(record, today=self.today, words=self.words[record.pk])
        why = [reason["text"] for reason in reasons if reason.get("stays_in", True)]
        words = str(OUT_WORDS[Readiness.STAYS_IN])
        return format_html('{} <span class="kept-in">{}</span>', words, first_of(why)) if why else words


class PeopleTable(BaseTable):
    """``roles_of`` gives each person's roles as words, read once for the page."""

    name = tables.Column(
        verbose_name=_("Name"), attrs=CARD_TITLE, linkify=lambda record: reverse("inventory:person", args=[record.pk])
    )
    username = tables.Column(verbose_name=_("Logs in as"), attrs=CARD_SMALL_NAMED)
    roles = tables.Column(
        accessor="pk", orderable=False, verbose_name=_("Roles"), attrs={"td": {"class": "wrap card-second"}}
    )
    last_login = DayColumn(verbose_name=_("Last here"), attrs={"td": {"class": "nowrap card-beside card-end"}})
    is_active = tables.Column(verbose_name=_("Active"), attrs=CARD_SMALL_NAMED)

    class Meta(BaseTable.Meta):
        model = User
        fields = ("name", "username", "roles", "last_login", "is_active")
        order_by = ("name",)
        empty_text = _("Nobody fits")

    count_word = _("person,people")

    def __init__(self, *args: Any, roles_of: dict[int, list[str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.roles_of = roles_of

    def render_roles(self, value: int) -> str:
        return "; ".join(self.roles_of.get(value, [])) or gettext("none yet")

    def render_is_active(self, value: bool) -> str:  # noqa: FBT001  # django-tables2 names its arguments
        return gettext("yes") if value else gettext("deactivated")


class SchoolTable(BaseTable):
    name = tables.Column(
        verbose_name=_("Name"), attrs=CARD_TITLE, linkify=lambda record: reverse("inventory:school", args=[record.code])
    )
    code = tables.Column(verbose_name=_("Code"), attrs={"td": {"class": "card-beside card-end"}})
    phone = tables.Column(verbose_name=_("Phone"), attrs=CARD_SECOND)
    room_count = tables.Column(verbose_name=_("Rooms"), attrs=COUNT)
    instrument_count = tables.Column(verbose_name=_("Instruments"), attrs=COUNT)

    class Meta(BaseTable.Meta):
        model = School
        fields = ("name", "code", "phone", "room_count", "instrument_count")
        order_by = ("name",)
        empty_text = _("No school yet")

    count_word = _("school")
