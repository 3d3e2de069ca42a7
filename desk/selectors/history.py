"""The history page is read from the log: each act as a sentence."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from types import MappingProxyType
from typing import Any

from core.models import Event
from core.money import dollars
from inventory.catalog.load import catalog
from inventory.columns import BY_NAME
from inventory.models import Instrument, Purpose, Whereabouts


@dataclass(frozen=True, slots=True)
class HistoryLine:
    when: datetime
    what: str
    who: str
    detail: str = ""
    verdict: str = ""
    asset_number: str = ""  # where lines of several instruments stand together
    times: int = 1  # how often the same was done in that minute

    @property
    def moment(self) -> tuple[datetime, str]:
        """The minute and the person: what shares both stands under one date."""
        return self.when.replace(second=0, microsecond=0), self.who


def _moved(event: Event) -> str:
    return f"Moved: {Whereabouts(event.after['whereabouts']).label.lower()}"


def _inspected(event: Event) -> str:
    count = event.after.get("findings", 0)
    found = "nothing found" if not count else "1 finding" if count == 1 else f"{count} findings"
    return f"Inspected ({Purpose(event.after['purpose']).label.lower()}), {found}"


def _play_tested(event: Event) -> str:
    return {"pass": "Passed its play test", "limits": "Passed its play test, with limits"}.get(
        str(event.after.get("result")), "Failed its play test"
    )


def _corrected(event: Event) -> str:
    labels = (BY_NAME[name].label if name in BY_NAME else name.replace("_", " ") for name in event.after)
    return f"Corrected: {', '.join(labels).lower() or 'notes'}"


def _worth(word: str, event: Event) -> str:
    return f"{word}: {str(event.after.get('answer', '')).replace('_', ' ')}"


def _care(event: Event) -> str:
    care = catalog().intervals.get(str(event.after.get("care", "")))
    return f"Care: {care.name}" if care else "Care done"


SENTENCES: Mapping[str, str | Callable[[Event], str]] = {
    "registered": "Registered",
    "corrected": _corrected,
    "gift_recorded": "Gift recorded",
    "tag_issued": "Tag issued",
    "tag_revoked": "Tag revoked",
    "moved": _moved,
    "judged": "Verdict worked out again",
    "inspected": _inspected,
    "inspection_dropped": "Inspection given up",
    "findings_closed": "Put right",
    "accessories_counted": "Accessories counted",
    "play_tested": _play_tested,
    "cleaned": "Cleaned between players",
    "problem_reported": "A problem was reported",
    "report_answered": "Report answered",
    "papers_deleted": "Signed papers deleted; their hashes stay",
    "photo_kept": "Photo taken",
    "job_opened": "Repair job opened",
    "cautions_acknowledged": "Cautions read before hot or chemical work",
    "step_waits": "Bench step waits",
    "step_wait_stopped": "Bench step waits no more",
    "step_done": "Bench step",
    "asked_again": "A bench step is to be tried again",
    "recheck_failed": "Checked again: not yet right",
    "job_closed": "Repair job closed",
    "kept_for_parts": "Kept for its parts from now on",
    "no_parts_horn": "No parts horn any more",
    "part_taken": lambda event: f"Part taken off for {event.after.get('onto', 'another horn')}",
    "part_put_on": lambda event: f"Part put on from {event.after.get('off', 'a parts horn')}",
    "part_fit_noted": lambda event: "The part fits" if event.after.get("fit") == "fits" else "The part does not fit",
    "shop_asked": "An outside shop was asked",
    "estimate_given": lambda event: f"Shop's estimate: {dollars(event.after.get('estimate'))}",
    "cost_approved": lambda event: f"Cost approved up to {dollars(event.after.get('amount'))}",
    "sent_to_shop": "Sent to an outside shop",
    "back_from_shop": "Back from the shop",
    "invoice_noted": lambda event: f"Shop's bill: {dollars(event.after.get('amount'))}",
    "shop_work_played": "The shop's work was play-tested",
    "order_called_off": "Shop order called off",
    "worth_decided": lambda event: _worth("Decided", event),
    "worth_approved": lambda event: _worth("Approved", event),
    "worth_refused": lambda event: _worth("Not approved", event),
    "lent": "Lent",
    "returned": "Came back",
    "agreement_signed": "Agreement signed",
    "agreement_filed": "Signed agreement filed",
    "care_done": _care,
    "care_withdrawn": "Care noted by mistake, taken back",
}


def sentence(event: Event) -> str:
    words = SENTENCES.get(event.act, event.act.replace("_", " ").capitalize())
    return words if isinstance(words, str) else words(event)


def detail(event: Event) -> str:
    """What an act says beyond its sentence."""
    after: Mapping[str, Any] = event.after
    if event.act == "play_tested" and after.get("failed_notes"):
        return "Lost: " + ", ".join(after["failed_notes"])
    if event.act == "step_done":
        return str(after.get("say") or f"{after.get('method', '')}: {after.get('outcome', '')}".replace("_", " "))
    return ""


def numbers_by_thread(events: Iterable[Event]) -> dict[str, str]:
    """Thread -> asset number of the instruments that events tell of. One query."""
    keys = [event.thread.removeprefix("instrument:") for event in events if event.thread.startswith("instrument:")]
    return {
        f"instrument:{pk}": number
        for pk, number in Instrument.objects.filter(pk__in=keys).values_list("pk", "asset_number")
    }


def lines_of(events: Iterable[Event], *, numbers: Mapping[str, str] = MappingProxyType({})) -> list[HistoryLine]:
    """Events (with their actors) as sentences. A verdict that an inspection brought is told with the inspection."""
    rows = list(events)
    inspected = {event.at for event in rows if event.act == "inspected"}
    return [
        HistoryLine(
            when=event.at,
            what=sentence(event),
            who=event.actor.name if event.actor else "",
            detail=detail(event),
            verdict=str(event.after.get("verdict", "")) if event.act in {"judged", "inspected"} else "",
            asset_number=numbers.get(event.thread, ""),
        )
        for event in rows
        if event.act != "judged" or event.at not in inspected
    ]


def folded(lines: Iterable[HistoryLine]) -> list[HistoryLine]:
    """The same act by the same person in the same minute, told once with how often."""
    told: list[HistoryLine] = []
    for line in lines:
        last = told[-1] if told else None
        if last and (last.moment, last.what, last.detail, last.verdict, last.asset_number) == (
            line.moment,
            line.what,
            line.detail,
            line.verdict,
            line.asset_number,
        ):
            told[-1] = replace(last, times=last.times + 1)
        else:
            told.append(line)
    return told


def history_of(instrument: Instrument, *, limit: int = 40) -> list[HistoryLine]:
    """The newest events of an instrument as sentences, the latest act first. One query.

    What was written down late stands where it happened.
    """
    events = Event.objects.filter(thread=instrument.thread).newest_first().select_related("actor")[:limit]
    return lines_of(sorted(events, key=lambda event: event.at, reverse=True))
