"""Events as sentences."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import datetime
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from core.models import Event
from core.money import dollars
from inventory.catalog.load import catalog
from inventory.columns import BY_NAME
from inventory.models import Closed, Purpose, Whereabouts
from inventory.rules.facts import Owed
from inventory.rules.notes import note_words

ALIKE = ("moment", "what", "detail", "verdict", "asset_number")  # in lines that are shown as one


def moment_of(event: Event) -> tuple[datetime, int | None]:
    """The minute and the person: lines that share both are shown under one date."""
    return event.at.replace(second=0, microsecond=0), event.actor_id


def _moved(event: Event) -> str:
    return gettext("Moved: %(where)s") % {"where": str(Whereabouts(event.after["whereabouts"]).label).lower()}


def _inspected(event: Event) -> str:
    count = event.after.get("findings", 0)
    purpose = str(Purpose(event.after["purpose"]).label).lower()
    if not count:
        return gettext("Inspected (%(purpose)s), nothing found") % {"purpose": purpose}
    text = ngettext("Inspected (%(purpose)s), %(count)d finding", "Inspected (%(purpose)s), %(count)d findings", count)
    return text % {"purpose": purpose, "count": count}


def _play_tested(event: Event) -> str:
    match event.after.get("result"):
        case "pass":
            return gettext("Passed its play test")
        case "limits":
            return gettext("Passed its play test, with limits")
    return gettext("Failed its play test")


def _corrected(event: Event) -> str:
    labels = (str(BY_NAME[name].label) if name in BY_NAME else name.replace("_", " ") for name in event.after)
    return gettext("Corrected: %(columns)s") % {"columns": ", ".join(labels).lower() or gettext("notes")}


def _cautions(event: Event) -> str:
    """Name the cautions that were shown; older entries kept none, so that nobody can say which."""
    if names := ", ".join(one["name"].lower() for one in event.after.get("shown", ())):
        return gettext("Cautions read: %(names)s") % {"names": names}
    return gettext("Cautions confirmed for the whole job, not one by one")


def _cleaned(event: Event) -> str:
    """Say what was cleaned, with what, and how long it stayed wet, as far as it was entered."""
    product, done = event.after.get("product"), event.after.get("done", ())
    if product and not done:  # the oldest entries name neither, and were always the whole cleaning between players
        said = [gettext("Washed, not all of it yet")]
    else:
        said = [gettext("Cleaned, all of it") if Owed.FULL in done else gettext("Cleaned between players")]
    if product:
        known = catalog().cleaners.get(product)
        said.append((known.name if known else product).lower())
    if minutes := event.after.get("wet_minutes"):
        said.append(gettext("wet for %(minutes)d min") % {"minutes": minutes})
    return ", ".join(said)


def _care(event: Event) -> str:
    care = catalog().intervals.get(str(event.after.get("care", "")))
    return gettext("Care: %(care)s") % {"care": care.name} if care else gettext("Care done")


def _part_fit(event: Event) -> str:
    if number := event.after.get("onto"):
        return gettext("The part fits %(number)s") % {"number": number}
    if number := event.after.get("off"):
        return gettext("The part from %(number)s fits") % {"number": number}
    return gettext("The part fits") if event.after.get("fit") == "fits" else gettext("The part does not fit")


def _part_slip(event: Event) -> str:
    if number := event.after.get("onto"):
        return gettext("No part removed for %(number)s after all") % {"number": number}
    return gettext("No part installed from %(number)s after all") % {"number": event.after.get("off", "")}


def _part_names(after: Mapping[str, Any]) -> str:
    """Name the parts that went from one instrument to another; older entries kept their codes alone."""
    codes = after.get("parts") or [after.get("part", "")]
    names = str(after.get("named") or ", ".join(codes).replace("_", " "))
    return f"{names[:1].upper()}{names[1:]}"


def _findings_closed(event: Event) -> str:
    because = event.after.get("because")
    if because == Closed.PUT_BACK:
        return gettext("A part is back on")
    return gettext("Finding entered by mistake") if because == Closed.WITHDRAWN else gettext("Repaired")


def _with_amount(text: Promise, key: str) -> Callable[[Event], str]:
    return lambda event: text % {"amount": dollars(event.after.get(key))}


def _with_answer(text: Promise) -> Callable[[Event], str]:
    return lambda event: text % {"answer": str(event.after.get("answer", "")).replace("_", " ")}


def _with_instrument(text: Promise, key: str) -> Callable[[Event], str]:
    return lambda event: text % {"number": event.after.get(key) or gettext("another instrument")}


UNDONE = {
    "estimate_given": _("Shop's estimate"),
    "cost_approved": _("Approval of the cost"),
    "order_called_off": _("Cancellation of the shop order"),
    "sent_to_shop": _("Sent to an outside shop"),
    "promise_changed": _("Shop's new date"),
    "back_from_shop": _("Back from the shop"),
    "invoice_noted": _("Shop's bill"),
}


def _order_undone(event: Event) -> str:
    act = event.after.get("act", "")
    return gettext("Taken back: %(act)s") % {"act": str(UNDONE.get(act, act)).lower()}


SENTENCES: Mapping[str, Promise | Callable[[Event], str]] = {
    "registered": _("Registered"),
    "corrected": _corrected,
    "gift_recorded": _("Gift recorded"),
    "tag_issued": _("Tag issued"),
    "tag_revoked": _("Tag revoked"),
    "moved": _moved,
    "judged": _("Verdict updated"),
    "inspected": _inspected,
    "inspection_dropped": _("Inspection discarded"),
    "findings_closed": _findings_closed,
    "accessories_counted": _("Accessories counted"),
    "play_tested": _play_tested,
    "cleaned": _cleaned,
    "problem_reported": _("Problem reported"),
    "report_confirmed": _("Report confirmed"),
    "report_answered": _("Report answered"),
    "papers_deleted": _("Signed papers deleted, hashes kept"),
    "photo_kept": _("Photo added"),
    "job_opened": _("Repair job opened"),
    "cautions_acknowledged": _cautions,
    "step_waits": _("Bench step waiting"),
    "tried_in_vain": _("Tried without success"),
    "step_wait_stopped": _("Bench step no longer waiting"),
    "step_done": _("Bench step done"),
    "asked_again": _("Bench step to be repeated"),
    "recheck_failed": _("Rechecked, not fixed yet"),
    "job_closed": _("Repair job closed"),
    "kept_for_parts": _("Kept for parts"),
    "no_parts_horn": _("No longer kept for parts"),
    "retired": _("Retired"),
    "no_longer_retired": _("No longer retired"),
    "part_taken": _with_instrument(_("Part removed for %(number)s"), "onto"),
    "part_put_on": _with_instrument(_("Part installed from %(number)s"), "off"),
    "part_fit_noted": _part_fit,
    "part_back_on": _with_instrument(_("Part back, it did not fit %(number)s"), "onto"),
    "part_on_shelf": _with_instrument(_("Part in stock, it did not fit %(number)s"), "onto"),
    "part_off_again": _with_instrument(_("Part from %(number)s taken off again, it did not fit"), "off"),
    "part_slip": _part_slip,
    "shop_asked": _("Outside shop asked for an estimate"),
    "estimate_given": _with_amount(_("Shop's estimate: %(amount)s"), "estimate"),
    "cost_approved": _with_amount(_("Cost approved up to %(amount)s"), "amount"),
    "cost_refused": _with_amount(_("Cost of %(amount)s refused"), "amount"),
    "work_ordered": _with_amount(_("Shop told to go ahead for %(amount)s"), "amount"),
    "sent_to_shop": _("Sent to an outside shop"),
    "promise_changed": _("Shop promised another day"),
    "back_from_shop": _("Back from the shop"),
    "invoice_noted": _with_amount(_("Shop's bill: %(amount)s"), "amount"),
    "shop_work_played": _("Shop's work play-tested"),
    "order_called_off": _("Shop order canceled"),
    "order_act_undone": _order_undone,
    "findings_reopened": _("Findings stand again"),
    "worth_decided": _with_answer(_("Decided: %(answer)s")),
    "worth_approved": _with_answer(_("Approved: %(answer)s")),
    "worth_answer_read": _with_answer(_("Answer read: %(answer)s")),
    "worth_refused": _with_answer(_("Not approved: %(answer)s")),
    "budget_added": _with_amount(_("Repair budget of %(amount)s added"), "amount"),
    "budget_changed": _with_amount(_("Repair budget changed to %(amount)s"), "amount"),
    "lent": _("Lent"),
    "returned": _("Returned"),
    "agreement_signed": _("Agreement signed"),
    "agreement_filed": _("Signed agreement filed"),
    "care_done": _care,
    "care_withdrawn": _("Care entry removed"),
}


def sentence(event: Event) -> str:
    words = SENTENCES.get(event.act, event.act.replace("_", " ").capitalize())
    return words(event) if callable(words) else str(words)


def detail(event: Event) -> str:
    """What an act says beyond its sentence."""
    after: Mapping[str, Any] = event.after
    if event.act.startswith("part_"):
        return _part_names(after)
    if event.act == "play_tested" and after.get("failed_notes"):
        return gettext("Lost: %(notes)s") % {"notes": note_words(after["failed_notes"])}
    if event.act == "job_closed":
        minutes, amount = after.get("minutes"), Decimal(after.get("amount") or 0)
        if minutes:
            return gettext("%(minutes)s min, %(amount)s") % {"minutes": minutes, "amount": dollars(amount)}
        return dollars(amount) if amount else ""  # a shop's bill alone
    if event.act == "step_done":
        return str(after.get("say") or f"{after.get('method', '')}: {after.get('outcome', '')}".replace("_", " "))
    return ""


def lines_of(events: Iterable[Event], *, numbers: Mapping[str, str] = MappingProxyType({})) -> list[dict[str, Any]]:
    """Events (with their actors) as sentences. A verdict that follows from an inspection is shown with it."""
    rows = list(events)
    inspected = {event.at for event in rows if event.act == "inspected"}
    return [
        {
            "when": event.at,
            "what": sentence(event),
            "who": event.actor.name if event.actor else "",
            "moment": moment_of(event),
            "detail": detail(event),
            "verdict": str(event.after.get("verdict", "")) if event.act in {"judged", "inspected"} else "",
            "asset_number": numbers.get(event.thread, ""),  # in a list about several instruments
            "times": 1,  # how often the same person did it in that minute
        }
        for event in rows
        if event.act != "judged" or event.at not in inspected
    ]


def folded(lines: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """The same act by the same person in the same minute, once, with how often."""
    merged: list[dict[str, Any]] = []
    for line in lines:
        last = merged[-1] if merged else {}
        if all(last.get(name) == line[name] for name in ALIKE):
            merged[-1] = last | {"times": last["times"] + 1}
        else:
            merged.append(line)
    return merged
