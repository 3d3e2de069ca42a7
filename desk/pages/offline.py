"""The register as a phone carries it, and the pages that belong on it."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.conf import settings
from django.urls import reverse
from django.utils.translation import get_language, gettext

from core.models import User
from desk.pages.guide import shown_page
from desk.rules.guide import PICTURE
from desk.selectors.offline import (
    INSPECT,
    MOST_INSTRUMENTS,
    build_of,
    examples_of,
    instruments_to_carry,
    open_work,
    tokens_of,
)
from inventory.models import Instrument
from inventory.models.places import school_keys
from inventory.pages.inspecting import likely_purposes

GUIDE = ("inspect", "severity", "play-test", "bench", "counting", "offline")  # what is done where there is no signal
WALK, PLAY = "inventory:walk-like", "inventory:play-test-like"
FOUND = ("repairs:found", "repairs:damage")


def offline_page(user: User, *, today: date) -> dict[str, Any]:
    instruments = instruments_to_carry(user)
    tokens = tokens_of(instruments)
    schools = school_keys(user, INSPECT)
    mine = [row for row in instruments if schools is None or row.school_id in schools]
    examples = examples_of(mine)
    work = open_work(user)
    found = [reverse(page, args=[job.pk]) for page in FOUND for job in work["jobs"]]
    may_inspect = {row.pk for row in mine}
    guide = [shown_page(code) for code in GUIDE]
    return {
        "work": [(title, lines) for title, lines in _work_lists(work) if lines],
        "register": [
            {
                "number": row.asset_number,
                "name": f"{row.kind.name}{f', {row.maker}' if row.maker else ''}",
                "where": f"{row.school}{f', {row.room}' if row.room else ''}",
                "verdict": str(row.get_verdict_display()),
                "also": [word for word in (row.second_number, row.serial, *tokens[row.pk]) if word],
                "walk": address_like(examples, row, page=WALK) if row.pk in may_inspect else "",
                "play": address_like(examples, row, page=PLAY) if row.pk in may_inspect else "",
                "purposes": [[purpose.value, str(purpose.label)] for purpose in likely_purposes(row)],
            }
            for row in instruments
        ],
        "is_cut": len(instruments) == MOST_INSTRUMENTS,
        "pages_of_days": [
            *(reverse(page, args=[number]) for page in (WALK, PLAY) for number in examples.values()),
            *found,
        ],
        "proofs": [reverse("repairs:prove", args=[job.pk]) for job in work["jobs"]],
        "guide": guide,
        "pictures": [block["picture"] for page in guide for block in page["blocks"] if block["sort"] == PICTURE],
        # A walk and what can be found at a part change with the program and with the catalog; once a day is often enough to ask.
        "version": f"{settings.VERSION} {today} {get_language()}",
    }


def _work_lists(work: dict[str, list[Any]]) -> list[tuple[str, list[dict[str, Any]]]]:
    return [
        (
            gettext("Inspections in progress"),
            [_line("inventory:walk", one, one.get_purpose_display()) for one in work["walks"]],
        ),
        (gettext("Jobs on the bench"), [_line("repairs:job", one, one.bench) for one in work["jobs"]]),
        (
            gettext("Counts"),
            [{"url": reverse("desk:count", args=[one.pk]), "head": one.school} for one in work["counts"]],
        ),
    ]


def _line(page: str, row: Any, under: Any) -> dict[str, Any]:
    url, instrument = reverse(page, args=[row.pk]), row.instrument
    return {"url": url, "head": instrument.asset_number, "what": instrument.kind.name, "under": under}


def address_like(examples: dict[tuple[str, str], str], instrument: Instrument, *, page: str) -> str:
    number = examples.get(build_of(instrument))
    return reverse(page, args=[number]) if number else ""
