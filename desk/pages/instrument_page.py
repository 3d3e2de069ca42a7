"""The instrument page: why it stays in and what would clear that, its findings in words, and what to do next."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext, ngettext

from core.models import User
from desk.pages.history import lines_of
from desk.selectors.instrument_record import InstrumentRecord
from inventory.models import Acquired, Readiness, Whereabouts
from inventory.pages.drawing import PhotoLine, marks_of, photo_lines, station_numbers
from inventory.pages.inspection_results import CLEARING, GROUPS
from inventory.pages.suspects import spots_of
from inventory.rules.leaving import DISPOSE, TRANSFER
from inventory.rules.playing import for_everybody, level_fits
from inventory.rules.readiness import AT_HAND, is_unsafe_or_silent
from inventory.rules.verdict import Verdict
from inventory.selectors.charts import unconfirmed_chart
from repairs.pages.donors import taken_lines
from repairs.pages.refused import refusal_notice

Line = dict[str, Any]  # a finding in plain words, with what the repair would take


@dataclass(frozen=True, slots=True)
class Act:
    label: str
    url: str
    main: bool = False


SHOWN = 2  # findings and reasons shown of many; the rest is folded, or told below
LONG = 4  # findings; more of them fill screens by themselves


def clearing(code: str, record: InstrumentRecord, *, may: Callable[[str], bool]) -> tuple[str, str]:
    """(what to do, where) to clear a reason; two empty strings where this person may not or nothing is known."""
    if code == "repair" and _is_stopped(record):
        return "", ""
    if code == "answer_report" and may("inventory.handle_report"):
        return gettext("Read the report"), reverse("inventory:reports")
    if code in {"repair", "finish_job"} and record.order_pk:
        return gettext("See the order"), reverse("repairs:order", args=[record.order_pk])
    if code in {"repair", "finish_job"} and record.job:
        return gettext("Open the job"), reverse("repairs:job", args=[record.job.pk])
    if code == "find" and record.loan and record.is_lent_from_here and may("loans.view_loss"):
        return gettext("See the case"), reverse("desk:loss", args=[record.loan.pk])
    if code == "decide" and may("repairs.view_worth"):
        return gettext("Worth it?"), reverse("repairs:worth", args=[record.instrument.asset_number])
    if code in CLEARING and may(CLEARING[code][2]):
        name, label, _needed = CLEARING[code]
        return str(label), reverse(name, args=[record.instrument.asset_number])
    return "", ""


def _is_stopped(record: InstrumentRecord) -> bool:
    """Whether no repair begins before a new decision: kept for parts, retired, or not approved."""
    instrument, refused = record.instrument, record.refused
    return instrument.is_parts_instrument or instrument.is_retired or (refused is not None and refused.spends)


def reason_lines(record: InstrumentRecord, *, may: Callable[[str], bool]) -> list[dict[str, str]]:
    """What keeps it in, each with what would clear it; limits share one line while it stays in."""
    where = record.instrument.whereabouts  # away_line() says it, where it is no place to go out from
    staying = [one for one in record.reasons if one["stays_in"] and (where in AT_HAND or one["code"] != where)]
    trusted = [reason for reason in record.reasons if reason["code"] == "trusted"]
    limits = [reason for reason in record.reasons if not reason["stays_in"] and reason not in trusted]
    lines: list[dict[str, str]] = []
    for reason in (*first_repairs(staying or limits), *trusted):
        action, url = clearing(reason["clears"], record, may=may)
        if lines and lines[-1]["url"] == url:
            lines[-1]["url"] = lines[-1]["action"] = ""  # one link for neighbors that the same act clears
        lines.append({"text": reason["text"], "url": url, "action": action})
    if record.standing.judgement.silenced_by and may("inventory.play_test_instrument"):
        lines.append({"text": gettext("No play test until it can make a sound."), "url": "", "action": ""})
    if staying and limits:
        text = ngettext("And %(count)d limit, below.", "And %(count)d limits, below.", len(limits))
        lines.append({"text": text % {"count": len(limits)}, "url": "#findings", "action": gettext("Read on")})
    return lines


def away_line(record: InstrumentRecord, *, may: Callable[[str], bool]) -> dict[str, str] | None:
    """Where it is, when that is no place to go out from, with what would bring it back; None where it is at hand.

    What is shared in class stays in the room although nothing else is against lending it.
    """
    instrument = record.instrument
    if instrument.whereabouts in AT_HAND:
        stays = record.shared and record.may_go_out and not record.reasons
        return {"text": gettext("Stays in the room: shared in class"), "url": "", "action": ""} if stays else None
    code = next((one["clears"] for one in record.reasons if one["code"] == instrument.whereabouts), "")
    action, url = clearing(code, record, may=may)
    return {"text": instrument.get_whereabouts_display(), "url": url, "action": action}


def first_repairs(reasons: Sequence[Mapping[str, Any]]) -> Iterator[Mapping[str, Any]]:
    """Of many findings that only a repair clears, the first, and how many more: the findings stand below."""
    repairs = [index for index, reason in enumerate(reasons) if reason["clears"] == "repair"]
    folded = repairs[SHOWN:] if len(repairs) > SHOWN + 1 else []
    for index, reason in enumerate(reasons):
        if index not in folded:
            yield reason
        elif index == folded[0]:
            yield {"text": gettext("And %(count)d more, below.") % {"count": len(folded)}, "clears": "repair"}


def finding_groups(lines: Sequence[Line]) -> list[tuple[str, Promise, list[Line], list[Line]]]:
    """(code, title, findings shown, findings folded) of each group that has any; of many the worst are shown."""
    groups: list[tuple[str, Promise, list[Line], list[Line]]] = []
    room = SHOWN if is_long(lines) else len(lines)
    for code, title in GROUPS:
        mine = [line for line in lines if line["group"] == code]
        if mine:
            groups.append((code, title, mine[:room], mine[room:]))
        room = max(0, room - len(mine))
    return groups


def is_long(lines: Sequence[Line]) -> bool:
    """Whether there are so many findings that the page folds its other long sections, too."""
    return len(lines) > LONG


def finding_lines(record: InstrumentRecord, photos: Sequence[PhotoLine] = (), *, ask_url: str = "") -> list[Line]:
    """Findings in walk order, numbered as on the drawing; those on parts that are gone last, without a number."""
    order = station_numbers(record.standing.kind)
    lines: list[Line] = []
    for effect in record.standing.judgement.effects:
        fact, number = effect.finding, order.get(effect.finding.part, 0)
        before = sum(line["number"] == number for line in lines)
        takes = record.plan.costing.to_fix(fact.key)
        lines.append(
            {
                "number": number,  # of its station on the drawing; 0 where the instrument no longer has the part
                "anchor": f"finding-{number}-{before + 1}" if before else f"finding-{number}",
                "part": fact.part,
                "severity": fact.severity.value,
                "sentence": effect.sentence,
                "group": effect.group,
                "photos": [one.photo for one in photos if one.photo.part == fact.part],
                "note": record.notes.get(fact.key, ""),
                "ask_url": f"{ask_url}?finding={fact.key}" if ask_url and fact.key.isdigit() else "",
                "takes": takes,  # on average, over all ways of what is stuck; None where nothing is done here
            }
        )
    return sorted(lines, key=lambda line: line["number"] or len(order) + 1)


def likely_acts(record: InstrumentRecord, *, may: Callable[[str], bool]) -> list[Act]:
    """What somebody most likely came for: one main act, looking and playing beside it."""
    instrument = record.instrument
    number, is_in_store = instrument.asset_number, instrument.whereabouts == Whereabouts.IN_STORE
    is_in_use = not (instrument.is_parts_instrument or instrument.is_retired)
    may_inspect = may("inventory.inspect_instrument")
    inspect = Act(gettext("Inspect"), reverse("inventory:inspect", args=[number]))
    acts = [inspect] if may_inspect else []
    if may("inventory.play_test_instrument") and not record.standing.judgement.silenced_by:
        acts.append(Act(gettext("Play-test"), reverse("inventory:play-test", args=[number])))
    if record.is_lent_from_here and may("loans.return_instrument"):
        if may("loans.lend_instrument"):
            acts.append(Act(gettext("Swap"), reverse("desk:swap", args=[number])))
        acts.append(Act(gettext("Take back"), reverse("desk:take-back", args=[number]), main=True))
    elif record.job and may("repairs.do_step"):
        acts.append(Act(gettext("Next step"), reverse("repairs:job", args=[record.job.pk]), main=True))
    elif is_in_store and may("loans.lend_instrument") and record.may_go_out and not record.shared:
        acts.append(Act(gettext("Lend"), reverse("desk:lend-this", args=[number]), main=True))
    elif instrument.inspected_at is None and may_inspect:
        return [*acts[1:], Act(inspect.label, inspect.url, main=True)]
    elif is_in_store and instrument.is_retired and may(DISPOSE):
        acts.append(Act(gettext("Record how it leaves"), reverse("desk:leave", args=[number]), main=True))
    elif is_in_store and is_in_use and instrument.is_hygiene_due and may("inventory.clean_instrument"):
        acts.append(Act(gettext("Clean it"), reverse("inventory:hygiene", args=[number]), main=True))
    elif is_in_store and is_in_use and may("repairs.open_job") and not _is_stopped(record):
        acts.append(Act(gettext("Start job"), reverse("repairs:open-job", args=[number]), main=True))
    return acts


def may_open_gift(record: InstrumentRecord, *, may: Callable[[str], bool]) -> bool:
    """Who registers a gift writes its record, and reads it no more."""
    is_gift = record.instrument.acquired_by == Acquired.GIFT
    return (is_gift and may("inventory.view_donor")) or (record.owes_gift_record and may("inventory.add_instrument"))


def instrument_page(record: InstrumentRecord, *, reader: User, may: Callable[[str], bool]) -> dict[str, Any]:
    """Return what the page shows. ``may`` answers whether the reader has a permission at the instrument's school."""
    instrument, standing = record.instrument, record.standing
    may_ask = may("repairs.send_out") and instrument.whereabouts in {Whereabouts.IN_STORE, Whereabouts.ON_BENCH}
    ask_url = reverse("repairs:ask-shop", args=[instrument.asset_number]) if may_ask else ""
    photos = photo_lines(standing.kind, record.photos)
    lines = finding_lines(record, photos, ask_url=ask_url)
    plays = Verdict.DOES_NOT_PLAY not in {standing.judgement.verdict, instrument.verdict}
    fits = level_fits(reports=standing.reports) if plays else ()
    return {
        "record": record,
        "instrument": instrument,
        "kind": standing.kind,
        "readiness": instrument.readiness if record.may_go_out else Readiness.STAYS_IN,
        "nonce": uuid.uuid4() if record.failed_order else None,
        "may_send": may("repairs.send_out"),
        "refused": refusal_notice(record.refused, reader=reader) if record.refused else None,
        "away": away_line(record, may=may),
        "reasons": reason_lines(record, may=may),
        "stops": is_unsafe_or_silent(record.reasons),
        "findings": lines,
        "groups": finding_groups(lines),
        "is_long": is_long(lines),
        "marks": marks_of(standing),
        "photos": photos,
        "links": {one.photo.part: f"#{one.anchor}" for one in reversed(photos) if one.number}
        | {line["part"]: f"#finding-{line['number']}" for line in lines if line["number"]},
        # Of the latest play test, if it failed notes.
        "suspects": spots_of(next(iter(record.play_tests), None), instrument),
        "short_accessories": sum(row.is_short for row in record.accessories),
        "acts": [] if instrument.whereabouts == Whereabouts.GONE else likely_acts(record, may=may),
        "parts": taken_lines(record.parts),
        "history": lines_of(record.events, refs=record.refs),
        "fits": fits,  # what each level would miss
        "hurts_nobody": all(fit.is_enough and not fit.other for fit in fits),
        "everybody": for_everybody(reports=standing.reports) if plays else (),  # what affects every player
        "unconfirmed": unconfirmed_chart(standing.chart),
        "may_name": record.is_lent_from_here and may("loans.view_student_name"),
        "may_name_users": may("loans.view_student_name"),
        "may_share": may("loans.change_seat"),
        "may_see_lock": may("inventory.view_lock"),
        "lock": record.lock if may("inventory.view_lock") else "",
        "may_change": may("inventory.change_instrument"),
        "may_dispose": may(DISPOSE) and instrument.whereabouts != Whereabouts.GONE,
        "may_transfer": may(TRANSFER) and instrument.whereabouts == Whereabouts.IN_STORE,
        "may_decide": may("repairs.decide_worth") and instrument.whereabouts != Whereabouts.GONE,
        "may_clean": may("inventory.clean_instrument"),
        "may_count": may("inventory.inspect_instrument"),
        "may_lend": may("loans.lend_instrument"),
        "may_play": may("inventory.play_test_instrument"),
        "may_move": may("inventory.move_instrument"),
        "may_manage_tags": may("inventory.manage_tags"),
        "may_see_bench": may("repairs.view_bench"),
        "may_open_gift": may_open_gift(record, may=may),
    }
