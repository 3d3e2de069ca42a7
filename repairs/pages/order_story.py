"""The story of an order, oldest first: every act with its day and person, and what may be taken back."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from django.utils import timezone
from django.utils.dateparse import parse_date
from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.days import full_day
from core.models import Event
from core.money import dollars
from inventory.models import PlayTest
from repairs.models import OrderUndo, ShopOrder
from repairs.rules.orders import BY_APPROVERS, TAKEN_BACK
from repairs.selectors.orders import latest_to_undo


class Moment(NamedTuple):
    """One line of an order's story."""

    at: datetime
    what: str
    who: str = ""
    more: str = ""
    is_undone: bool = False


def story_of(
    order: ShopOrder, events: Sequence[Event], *, undos: Iterable[OrderUndo], played: PlayTest | None
) -> list[Moment]:
    """Return one line for each event. What was typed with an act is in the order, or with the act that took it back."""
    undone = {undo.number: undo for undo in undos}
    by_number = {event.number: event for event in events}
    typed = _typed(order, events, undone)
    lines = [
        Moment(
            at=event.at,
            what=_taken_back(event, by_number) if event.act == TAKEN_BACK else what_of(event),
            who=event.actor.name if event.actor else "",
            more="\n".join(filter(None, (*_days(event), typed.get(event.number, "")))),
            is_undone=event.number in undone,
        )
        for event in events
    ]
    if played is not None and order.play_test_id is None:
        lines.append(Moment(played.played_at, _played(played.result), str(played.actor), played.limits_text))
    return lines


def _typed(order: ShopOrder, events: Iterable[Event], undone: Mapping[int, OrderUndo]) -> dict[int, str]:
    """The words that the log does not keep, by event: those of the latest act stand in the order."""
    now = {
        "back_from_shop": order.what_was_done, "order_called_off": order.called_off_because,
        "invoice_noted": order.invoice_number, "cost_refused": order.refused_because,
    }  # fmt: skip
    typed = {number: undo.words for number, undo in undone.items()}
    for event in events:
        if event.act == TAKEN_BACK and (undo := undone.get(event.after["number"])):
            typed[event.number] = undo.because
    latest = {event.act: event.number for event in events if event.number not in undone}
    return typed | {latest[act]: words for act, words in now.items() if act in latest}


def what_of(event: Event) -> str:
    """Say what was done, with its figures."""
    words = WHAT.get(event.act, event.act.replace("_", " ").capitalize())
    return words(event.after) if callable(words) else str(words)


def _taken_back(event: Event, events: Mapping[int, Event]) -> str:
    undone = events.get(event.after["number"])
    return gettext("Undone: %(act)s") % {"act": what_of(undone) if undone else event.after["act"]}


def _days(event: Event) -> list[str]:
    """The day that was promised, and the day it happened if it was entered on another."""
    days = []
    on = parse_date(event.after.get("on") or "")
    if on is not None and on != timezone.localdate(event.at):
        days.append(gettext("on %(day)s") % {"day": full_day(on)})
    promised = parse_date(event.after.get("promised_on") or "")
    if promised is not None and event.act != "promise_changed":
        days.append(gettext("promised for %(day)s") % {"day": full_day(promised)})
    return days


def _played(result: str) -> str:
    return gettext("Play test: %(result)s") % {"result": str(PlayTest.Result(result).label).lower()}


def _amount(text: Promise, key: str) -> Callable[[Mapping[str, Any]], str]:
    return lambda after: text % {"amount": dollars(after.get(key))}


def _promised(after: Mapping[str, Any]) -> str:
    on = parse_date(after.get("promised_on") or "")
    return gettext("They now promise %(day)s") % {"day": full_day(on) if on else "-"}


WHAT: Mapping[str, Promise | Callable[[Mapping[str, Any]], str]] = {
    "shop_asked": _("Asked"),
    "estimate_given": _amount(_("Estimate of %(amount)s"), "estimate"),
    "cost_approved": _amount(_("Approved up to %(amount)s"), "amount"),
    "cost_refused": _amount(_("%(amount)s not approved"), "amount"),
    "work_ordered": _amount(_("Told to go ahead for %(amount)s"), "amount"),
    "order_called_off": _("Canceled"),
    "sent_to_shop": _("Sent"),
    "promise_changed": _promised,
    "back_from_shop": _("Came back"),
    "invoice_noted": _amount(_("Bill of %(amount)s"), "amount"),
    "shop_work_played": lambda after: _played(after["result"]),
}


def undo_of(events: Sequence[Event]) -> dict[str, Any] | None:
    """Return the act that may be taken back now: its number, its words, and whether it is an approval."""
    event = latest_to_undo(events)
    if event is None:
        return None
    return {"number": event.number, "what": what_of(event), "is_approval": event.act in BY_APPROVERS}
