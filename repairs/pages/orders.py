"""One order at an outside shop in words: what to ask, and where it stands."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import date
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext

from core.money import cents
from inventory.catalog.load import catalog
from inventory.models import Finding, Instrument, PlayTest
from inventory.rules.facts import FindingFact
from inventory.rules.verdict import finding_name
from repairs.models import ShopOrder
from repairs.pages.order_story import story_of, undo_of
from repairs.pages.shops import line_of, lines_of, work_name
from repairs.rules.plan import SentOut
from repairs.rules.shop_work import asked_for, is_watching, main_work
from repairs.rules.shops import wait_words
from repairs.rules.words import lower_first
from repairs.selectors.orders import order_events, ordered_with, out_of
from repairs.selectors.shops import (
    findings_about,
    is_redone,
    latest_test,
    limits_today,
    plan_today,
    play_test_since,
)


def findings_in_words(instrument: Instrument, *, ids: Sequence[int] | None = None) -> list[tuple[int, str]]:
    """Return (finding, words): those asked about, or all that stand. One query."""
    return named_findings(instrument, findings_about(instrument, ids=ids))


def named_findings(instrument: Instrument, rows: Iterable[Finding]) -> list[tuple[int, str]]:
    """Return (finding, words) of these."""
    parts, faults = {part.code: part for part in instrument.parts}, catalog().faults
    return [(row.pk, finding_name(finding=row.fact, part=parts.get(row.part), faults=faults)) for row in rows]


def shop_work(
    instrument: Instrument, out: Sequence[SentOut], facts: Sequence[FindingFact] | None = None
) -> list[SentOut]:
    """Return every standing finding as work for a shop: as the plan sends it out, else as a shop would be asked.

    ``facts`` are its findings where they are known. One query where not.
    """
    kind = instrument.kind
    trade = catalog().sized(kind.size)
    planned = {one.finding.key: one for one in out if one.method}
    found = findings_about(instrument).facts() if facts is None else facts
    return [planned.get(fact.key) or asked_for(trade, kind, fact) for fact in found]


def wanted_work(instrument: Instrument, works: Sequence[SentOut]) -> dict[str, str]:
    """Return the parts that each kind of work is wanted for: "third valve slide, main tuning slide"."""
    places: dict[str, list[str]] = {}
    for one in works:
        words = lower_first(instrument.kind.where(one.finding.part, one.finding.place))
        if one.method and words not in places.setdefault(one.method, []):
            places[one.method].append(words)
    return {code: ", ".join(words) for code, words in places.items()}


def asking(
    instrument: Instrument,
    out: Sequence[SentOut] | None = None,
    works: Sequence[SentOut] | None = None,
    about: Collection[int] = (),
) -> dict[str, Any]:
    """Return what an order says before anybody types, as ask_shop takes it: the work, its findings and its fee.

    It is about the findings named; without any, about what the bench cannot do itself, or else about all that a shop
    could put right. ``out`` is the shop's work of its plan and ``works`` all of shop_work, where they are known.
    """
    out = plan_today(instrument).send_out if out is None else out
    works = shop_work(instrument, out) if works is None else works
    sent = set(about) or set(_ids(out))
    trade = catalog()
    chosen = [one for one in works if _id(one) in sent]
    chosen = chosen or [one for one in works if not is_watching(trade, one)] or list(works)
    if not chosen:
        return {}
    parts = {part.code: part for part in instrument.parts}
    lines: list[str] = []
    fees: dict[tuple[str, ...], SentOut] = {}
    for one in chosen:
        found = finding_name(finding=one.finding, part=parts.get(one.finding.part), faults=trade.faults)
        lines.append(f"{found}." if is_watching(trade, one) else f"{one.say}: {found}.")
        # one method at one place, or on the whole instrument, is paid once, whatever the number of findings
        is_whole = one.method in trade.methods and trade.methods[one.method].whole
        fees.setdefault((one.method, *(() if is_whole else (one.finding.part, one.finding.place))), one)
    return {
        "question": "\n".join(dict.fromkeys(lines)),
        "work": main_work(trade, chosen),
        "findings": _ids(chosen),
        "expected_low_amount": cents(sum(one.fee_low_amount for one in fees.values())),
        "expected_high_amount": cents(sum(one.fee_high_amount for one in fees.values())),
    }


def needing_shop(rows: Sequence[Instrument]) -> list[tuple[str, str]]:
    """Return the instruments that the bench cannot put right itself, with the work a shop would do. Three queries."""
    found = out_of(rows)
    lines = []
    for row in rows:
        if out := found[row.pk][1]:
            says = "; ".join(dict.fromkeys(one.say for one in out))
            lines.append((row.asset_number, f"{row}: {says}"))
    return lines


def _id(one: SentOut) -> int:
    return int(one.finding.key) if one.finding.key.isdigit() else 0


def _ids(out: Iterable[SentOut]) -> tuple[int, ...]:
    return tuple(sorted({_id(one) for one in out} - {0}))


def order_page(order: ShopOrder, *, today: date) -> dict[str, Any]:
    """Return an order with its story. Six queries."""
    played = order.play_test or play_test_since(order)
    events = list(order_events(order))
    moments = story_of(order, events, undos=order.undos.all(), played=played)
    warranty = warranty_words(order, today=today)
    return line_of(order, today=today) | {
        "warranty": warranty,
        "under": _under(order),
        "waits_for": wait_words(order.money, limits_today()),
        "is_refused": order.refused_at is not None and (order.is_open or order.invoice_amount is not None),
        "findings": not_in_question(order, findings_about(order.instrument, ids=order.findings)),
        "moments": moments,
        "undo": undo_of(events),
        "together": together_lines(order, today=today),
        "is_play_test_due": order.returned_at is not None and played is None,
        "is_warranty_running": order.warranty_until is not None and order.warranty_until >= today,
    }


def together_lines(order: ShopOrder, *, today: date) -> list[dict[str, Any]]:
    """Return the other orders that were asked on the same form. One query where there are any."""
    others = ordered_with(order).exclude(pk=order.pk).for_table() if order.together else ()
    return lines_of(others, today=today)


def warranty_words(order: ShopOrder, *, today: date) -> dict[str, Any] | None:
    """Return what speaks for sending it back to make it good; None where nothing does. Two queries at most."""
    is_over = order.warranty_until is not None and order.warranty_until < today
    if order.returned_at is None or order.is_estimate_only or is_over:
        return None
    test = latest_test(order)
    if test is not None and test.result == PlayTest.Result.FAIL:
        notice = {"title": gettext("It failed its play test"), "tone": "stop"}
    elif order.warranty_until is not None:
        words = gettext("Under warranty until %(day)s")
        notice = {"title": words % {"day": date_format(order.warranty_until, gettext("F j, Y"))}, "tone": "info"}
    else:
        return None
    return None if is_redone(order) else notice


def _under(order: ShopOrder) -> str:
    """Say which shop does what, and while it is open, by when."""
    words = [str(order.shop), work_name(order.work)]
    if order.promised_on and order.is_open:
        words.append(gettext("promised for %(day)s") % {"day": date_format(order.promised_on, gettext("F j"))})
        if order.first_promised_on and order.first_promised_on != order.promised_on:
            words.append(gettext("first for %(day)s") % {"day": date_format(order.first_promised_on, gettext("F j"))})
    return " · ".join(words)


def not_in_question(order: ShopOrder, rows: Iterable[Finding]) -> list[tuple[int, str]]:
    """What it is about, but for what the question names in the same words."""
    named = named_findings(order.instrument, rows)
    return [(key, words) for key, words in named if words.lower() not in order.question.lower()]
