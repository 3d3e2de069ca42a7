"""One order at an outside shop in words: what to ask, its story, the packing slip."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext

from core.money import cents
from inventory.catalog.load import catalog
from inventory.models import Instrument
from inventory.rules.verdict import finding_name
from inventory.selectors.labels import tag_address
from repairs.models import ShopOrder
from repairs.pages.order_story import story_of, undo_of
from repairs.pages.shops import line_of, work_name
from repairs.rules.plan import SentOut
from repairs.rules.shops import wait_words
from repairs.rules.words import lower_first
from repairs.selectors.orders import order_events
from repairs.selectors.shops import (
    district_name,
    findings_about,
    limits_today,
    plan_today,
    play_test_since,
)


def findings_in_words(instrument: Instrument, *, ids: Sequence[int] | None = None) -> list[tuple[int, str]]:
    """Return (finding, words): those asked about, or all that stand. One query."""
    parts, faults = {part.code: part for part in instrument.parts}, catalog().faults
    return [
        (row.pk, finding_name(finding=row.fact, part=parts.get(row.part), faults=faults))
        for row in findings_about(instrument, ids=ids)
    ]


def wanted_work(instrument: Instrument, out: Sequence[SentOut]) -> dict[str, str]:
    """Return the parts that each kind of work is wanted for: "third valve slide, main tuning slide"."""
    places: dict[str, list[str]] = {}
    for one in out:
        words = lower_first(instrument.kind.where(one.finding.part, one.finding.place))
        if one.method and words not in places.setdefault(one.method, []):
            places[one.method].append(words)
    return {code: ", ".join(words) for code, words in places.items()}


def asking(instrument: Instrument, out: Sequence[SentOut] | None = None) -> dict[str, Any]:
    """Return what an order says before anybody types, as ask_shop takes it: what the bench cannot do itself, and its fee.

    ``out`` is all the shop's work of its plan, where that is known: one trip takes it. Nothing where the bench can do
    everything itself.
    """
    out = plan_today(instrument).send_out if out is None else out
    if not out:
        return {}
    words = dict(findings_in_words(instrument, ids=_ids(out)))
    lines = [f"{one.say}: {words.get(_id(one), gettext('see the tag'))}." for one in out]
    fees: dict[tuple[str, str, str], SentOut] = {}
    for one in out:  # one method at one place is paid once, whatever the number of findings
        fees.setdefault((one.method, one.finding.part, one.finding.place), one)
    return {
        "question": "\n".join(dict.fromkeys(lines)),
        "work": out[0].method,
        "findings": _ids(out),
        "expected_low_amount": cents(sum(one.fee_low_amount for one in fees.values())),
        "expected_high_amount": cents(sum(one.fee_high_amount for one in fees.values())),
    }


def _id(one: SentOut) -> int:
    return int(one.finding.key) if one.finding.key.isdigit() else 0


def _ids(out: Iterable[SentOut]) -> tuple[int, ...]:
    return tuple(sorted({_id(one) for one in out} - {0}))


def order_page(order: ShopOrder, *, today: date) -> dict[str, Any]:
    """Return an order with its story. Four queries."""
    played = order.play_test or play_test_since(order)
    events = list(order_events(order))
    moments = story_of(order, events, undos=order.undos.all(), played=played)
    return line_of(order, today=today) | {
        "under": _under(order),
        "waits_for": wait_words(order.money, limits_today()),
        "findings": _not_in_question(order),
        "moments": moments,
        "undo": undo_of(events),
        "is_play_test_due": order.returned_at is not None and played is None,
        "is_warranty_running": order.warranty_until is not None and order.warranty_until >= today,
    }


def _under(order: ShopOrder) -> str:
    """Say which shop does what, and while it is open, by when."""
    words = [str(order.shop), work_name(order.work)]
    if order.promised_on and order.is_open:
        words.append(gettext("promised for %(day)s") % {"day": date_format(order.promised_on, "F j")})
        if order.first_promised_on and order.first_promised_on != order.promised_on:
            words.append(gettext("first for %(day)s") % {"day": date_format(order.first_promised_on, "F j")})
    return " · ".join(words)


def _not_in_question(order: ShopOrder) -> list[tuple[int, str]]:
    """What it is about, but for what the question names in the same words."""
    findings = findings_in_words(order.instrument, ids=order.findings) if order.findings else []
    return [(key, words) for key, words in findings if words.lower() not in order.question.lower()]


def slip_of(order: ShopOrder, *, home: str, today: date) -> dict[str, Any]:
    """Return what goes into the case: nothing about a student, nothing about a donor. Four queries."""
    return {
        "order": order,
        "district": district_name(),
        "work": work_name(order.work),
        "findings": [words for _, words in _not_in_question(order)],
        "accessories": [  # as last counted
            (row.name, row.expected if row.present is None else row.present)
            for row in order.instrument.accessories.all()
            if row.present != 0
        ],
        "tag_url": tag_address(order.instrument_id, home=home),
        "made_on": today,
    }
