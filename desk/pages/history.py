"""Events as sentences."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from django.utils.functional import Promise
from django.utils.text import Truncator
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from core.days import full_day
from core.models import Event
from core.money import dollars
from desk.pages import leaving
from desk.pages.counting_log import COUNTING
from desk.selectors.history import BEGINS, ENTERED_IN_ERROR
from inventory.catalog.load import catalog
from inventory.models import Closed, Purpose, Whereabouts
from inventory.pages.changes import Change, References, changes_of, labels_of, tapped_words
from inventory.rules.facts import Owed
from inventory.rules.notes import note_words
from inventory.selectors.figures import REASON
from repairs.models import OUTCOME_LABELS
from repairs.rules.facts import Outcome

NO_REFS = References({}, {})
SHORT = 80  # letters of a text in a list
ALIKE = ("moment", "what", "detail", "changes", "strike", "verdict", "asset_number")  # in lines that are shown as one


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


def _with_columns(text: Promise) -> Callable[[Event], str]:
    return lambda event: text % {"columns": _columns(event)}


def _columns(event: Event) -> str:
    """Name the columns; the oldest entries did not say that it was the notes."""
    return ", ".join(labels_of(event)).lower() or gettext("notes")


def _entered_in_error(event: Event) -> str:
    return gettext("Marked as entered in error: %(act)s") % {"act": act_words(str(event.after.get("act", ""))).lower()}


def act_words(act: str) -> str:
    """Name an act without what its event says of it."""
    words = SENTENCES.get(act)
    return act.replace("_", " ").capitalize() if words is None or callable(words) else str(words)


def _cautions(event: Event) -> str:
    """Name the cautions that were shown; older entries kept none, so that nobody can say which."""
    if names := ", ".join(one["name"].lower() for one in event.after.get("shown", ())):
        return gettext("Cautions read: %(names)s") % {"names": names}
    return gettext("Cautions confirmed for the whole job, not one by one")


def _cleaned(event: Event) -> str:
    """Say what was cleaned, with what, and how long it stayed wet, as far as it was entered."""
    product, done = event.after.get("product"), event.after.get("done", ())
    if product and not done:  # the oldest entries name neither, and were always the whole cleaning between players
        words = [gettext("Washed, not all of it yet")]
    else:
        words = [gettext("Cleaned, all of it") if Owed.FULL in done else gettext("Cleaned between players")]
    if event.after.get("on"):
        words.append(gettext("on %(day)s, before it was registered") % {"day": _day(event, "on")})
    if product:
        known = catalog().cleaners.get(product)
        words.append((known.name if known else product).lower())
    if minutes := event.after.get("wet_minutes"):
        words.append(gettext("wet for %(minutes)d min") % {"minutes": minutes})
    return ", ".join(words)


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


def _due_changed(event: Event) -> str:
    return gettext("Due date changed to %(day)s") % {"day": _day(event, "due_on")}


def _day(event: Event, key: str) -> str:
    return full_day(date.fromisoformat(event.after[key]))


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
    return gettext("Undone: %(act)s") % {"act": str(UNDONE.get(act, act)).lower()}


SENTENCES: Mapping[str, Promise | Callable[[Event], str]] = {
    "registered": _("Registered"),
    "opening": _("Put on record as it was"),
    "corrected": _with_columns(_("Corrected: %(columns)s")),
    "text_redacted": _with_columns(_("A name taken out: %(columns)s")),
    "entered_in_error": _entered_in_error,
    "gift_recorded": _("Gift recorded"),
    "gift_corrected": _("Gift record corrected"),
    "list_remarked": _("Remark kept from the list"),
    "lock_noted": _("Lock noted"),
    "merged": _("Merged into another record"),
    "merged_here": _("Another record was merged into this one"),
    "unmerged": _("A separate record again"),
    "unmerged_here": _("A merged record was taken apart again"),
    **leaving.SENTENCES,
    "tag_issued": _("Tag issued"),
    "tag_revoked": _("Tag revoked"),
    "moved": _moved,
    **COUNTING,
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
    "papers_deleted": _("Signed papers deleted"),
    "photo_kept": _("Photo added"),
    "sample_examined": _("Examined in an auditor's sample"),
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
    "findings_reopened": _("Findings reopened"),
    "worth_decided": _with_answer(_("Decided: %(answer)s")),
    "worth_approved": _with_answer(_("Approved: %(answer)s")),
    "worth_answer_read": _with_answer(_("Answer read: %(answer)s")),
    "worth_refused": _with_answer(_("Not approved: %(answer)s")),
    "budget_added": _with_amount(_("Repair budget of %(amount)s added"), "amount"),
    "budget_changed": _with_amount(_("Repair budget changed to %(amount)s"), "amount"),
    "lent": _("Lent"),
    "lent_as_listed": _("With a student when it was registered"),
    "returned": _("Returned"),
    "return_inspected": _("Inspected after its return"),
    "return_undone": _("Return undone"),
    "return_recounted": _("What came back with it was corrected"),
    "renewed": _("Renewed: one term ended and another began"),
    "renewal_undone": _("Renewal undone as a mistake: the earlier term continues"),
    "loan_undone": _("Undone as a mistake"),
    "due_changed": _due_changed,
    "agreement_signed": _("Agreement signed"),
    "loss_reported": _("Reported lost or stolen"),
    "loss_changed": _("Case of loss changed"),
    "loss_ended": _("Case of loss ended"),
    "loss_reopened": _("Case of loss reopened: the return was undone"),
    "loan_ended_lost": _("Given up as lost"),
    "shared": _("Shared in class"),
    "sharing_moved": _("Shared in class through a merged record"),
    "sharing_ended": _("No longer shared in class"),
    "agreement_filed": _("Signed agreement filed"),
    "addendum_written": _("Addendum to the agreement: another due date"),
    "addendum_filed": _("Addendum filed"),
    "addendum_deleted": _("Addendum deleted"),
    "agreement_redacted": _("A name erased from what was agreed"),
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
        return _step_words(after)
    return ""


def _step_words(after: Mapping[str, Any]) -> str:
    """As it was stored; where that is in another language, what was done by the catalog's name if it still has one."""
    method, _part, _place, rung = (*str(after.get("step") or after.get("method", "")).split(":"), "", "", "")[:4]
    tried, outcome, stored = catalog().tried(method, rung), str(after.get("outcome", "")), str(after.get("say", ""))
    if tried and outcome in OUTCOME_LABELS:
        words = f"{tried.name}: {str(OUTCOME_LABELS[Outcome(outcome)]).lower()}"
        return stored if stored.endswith(words) else words
    return stored or f"{method}: {outcome}".replace("_", " ")


def lines_of(
    events: Iterable[Event], *, refs: References = NO_REFS, numbers: Mapping[str, str] = MappingProxyType({})
) -> list[dict[str, Any]]:
    """Events (with their actors) as sentences. A verdict that follows from an inspection is shown with it.

    What says that an event was entered in error is newer than it, so it is among events that are read newest first.
    """
    rows = list(events)
    inspected = {event.at for event in rows if event.act == "inspected"}
    strikes = {event.after.get("event"): event for event in rows if event.act == ENTERED_IN_ERROR}
    return [
        {
            "number": event.number,
            "when": event.at,
            "who": _who(event),
            "moment": moment_of(event),
            "verdict": str(event.after.get("verdict", "")) if event.act in {"judged", "inspected"} else "",
            "asset_number": numbers.get(event.thread, ""),  # in a list about several instruments
            "strike": strike_line(strikes.get(event.number), refs),
            "times": 1,  # how often the same person did it in that minute
            **_what(event, refs),
        }
        for event in rows
        if event.act != "judged" or event.at not in inspected
    ]


def _what(event: Event, refs: References) -> dict[str, Any]:
    """The sentence of an event, what it adds, and what it changed from and to; a list leaves out whole rows."""
    changes = [] if event.act in BEGINS else changes_of(event, refs)
    what = gettext("Corrected") if changes and event.act == "corrected" else sentence(event)
    words = [short_words(change) for change in changes]
    return {"what": what, "detail": detail(event), "changes": [*words, *tapped_words(event)]}


def short_words(change: Change) -> str:
    """A change in one line of a list: of a long text its beginning."""
    before = None if change.before is None else Truncator(change.before).chars(SHORT)
    return replace(change, before=before, after=Truncator(change.after).chars(SHORT)).words


def strike_line(strike: Event | None, refs: References) -> dict[str, Any] | None:
    """Who said that an event was entered in error, when and why."""
    if strike is None:
        return None
    return {"who": _who(strike), "when": strike.at, "because": reason_of(strike, refs)}


def _who(event: Event) -> str:
    return event.actor.name if event.actor else ""


def reason_of(event: Event, refs: References) -> str:
    """The reason that somebody gave, where one was asked for."""
    text = refs.texts.get((event.number, REASON))
    return text.after if text else ""


def entry_page(event: Event, *, refs: References, strike: Event | None) -> dict[str, Any]:
    """Return what the page of one event shows."""
    return {
        "event": event,
        "what": sentence(event),
        "detail": reason_of(event, refs) or detail(event),
        "who": _who(event),
        "changes": changes_of(event, refs),
        "strike": strike_line(strike, refs),
        "struck_number": event.after.get("event") if event.act == ENTERED_IN_ERROR else None,
    }


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
