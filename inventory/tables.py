"""Columns of the register and of the district's set-up."""

from __future__ import annotations

from datetime import date
from functools import lru_cache
from typing import Any

import django_tables2 as tables
from django.template.loader import render_to_string
from django.urls import reverse

from core.models import User
from core.tables import CARD_BESIDE, CARD_SECOND, CARD_SMALL, CARD_TITLE, FIGURE, BaseTable, DayColumn
from inventory.models import Instrument, Readiness, School

SMALL_ONE_LINE = {"td": {"class": "card-small nowrap"}}
SMALL_KEPT = {"td": {"class": "card-small keep"}}  # as wide as most names are; longer ones wrap
SMALL_KEPT_SHORT = {"td": {"class": "card-small keep-short"}}
OUT_WORDS = {Readiness.MAY_GO_OUT: "may go out", Readiness.WITH_LIMITS: "with limits", Readiness.STAYS_IN: "stays in"}


@lru_cache(maxsize=8)
def verdict_badge(verdict: str) -> str:
    """The badge of a verdict; there are four, and a page shows fifty."""
    return render_to_string("components/status_badge.html", {"verdict": verdict})


class InstrumentTable(BaseTable):
    """The register. ``today`` says whether an inspection has aged out meanwhile."""

    asset_number = tables.Column(
        verbose_name="Number",
        attrs=CARD_TITLE,
        linkify=lambda record: reverse("desk:instrument", args=[record.asset_number]),
    )
    kind = tables.Column(accessor="kind__name", order_by=("kind_code",), verbose_name="Kind", attrs=CARD_BESIDE)
    maker = tables.Column(verbose_name="Maker", order_by=("maker", "model"), attrs=CARD_SMALL)
    serial = tables.Column(verbose_name="Serial", attrs=SMALL_KEPT_SHORT)
    school = tables.Column(accessor="school__name", verbose_name="School", attrs=SMALL_KEPT)
    room = tables.Column(accessor="room__name", verbose_name="Room", attrs=CARD_SMALL)
    whereabouts = tables.Column(verbose_name="Where", attrs=SMALL_ONE_LINE)
    verdict = tables.Column(verbose_name="Verdict", attrs=CARD_SECOND)
    readiness = tables.Column(
        verbose_name="May go out",
        order_by=("readiness_today",),
        attrs={"td": {"class": "card-second card-end nowrap"}},
    )

    class Meta(BaseTable.Meta):
        model = Instrument
        fields = ("asset_number", "kind", "maker", "serial", "school", "room", "whereabouts", "verdict", "readiness")
        order_by = ("asset_number",)
        attrs = {"class": "table table-dense"}
        empty_text = "No instrument fits"

    count_word = "instrument"

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def render_maker(self, record: Instrument) -> str:
        return " ".join(filter(None, (record.maker, record.model))) or "—"

    def render_verdict(self, value: str, record: Instrument) -> str:
        return verdict_badge(record.verdict)

    def render_readiness(self, record: Instrument) -> str:
        if record.ready_until and record.ready_until < self.today:
            return OUT_WORDS[Readiness.STAYS_IN]
        return OUT_WORDS[Readiness(record.readiness)]


class PeopleTable(BaseTable):
    """``roles_of`` gives each person's roles as words, read once for the page."""

    name = tables.Column(attrs=CARD_TITLE, linkify=lambda record: reverse("inventory:person", args=[record.pk]))
    username = tables.Column(verbose_name="Logs in as")
    roles = tables.Column(accessor="pk", orderable=False, verbose_name="Roles")
    last_login = DayColumn(verbose_name="Last here")
    is_active = tables.Column(verbose_name="Let in")

    class Meta(BaseTable.Meta):
        model = User
        fields = ("name", "username", "roles", "last_login", "is_active")
        order_by = ("name",)
        empty_text = "Nobody fits"

    count_word = "person,people"

    def __init__(self, *args: Any, roles_of: dict[int, list[str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.roles_of = roles_of

    def render_roles(self, value: int) -> str:
        return "; ".join(self.roles_of.get(value, [])) or "none yet"

    def render_is_active(self, value: bool) -> str:  # noqa: FBT001  # django-tables2 names its arguments
        return "yes" if value else "kept out"


class SchoolTable(BaseTable):
    name = tables.Column(attrs=CARD_TITLE, linkify=lambda record: reverse("inventory:school", args=[record.code]))
    code = tables.Column()
    phone = tables.Column()
    room_count = tables.Column(verbose_name="Rooms", attrs=FIGURE)
    instrument_count = tables.Column(verbose_name="Instruments", attrs=FIGURE)

    class Meta(BaseTable.Meta):
        model = School
        fields = ("name", "code", "phone", "room_count", "instrument_count")
        order_by = ("name",)
        empty_text = "No school yet"

    count_word = "school"
