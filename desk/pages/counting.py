"""Counting in words."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date
from itertools import groupby
from operator import attrgetter
from typing import Any, NamedTuple

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.timezone import localtime
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from core.days import full_day
from core.sheets import OutValue
from desk.forms.counting import SettleForm
from desk.selectors.counting import Scan, SheetRow
from desk.selectors.finding_instruments import token_in
from inventory.models import OUTCOME_LABELS, REASON_LABELS, Count, Instrument, Sighting, Whereabouts
from inventory.rules.counting import REASONS, Outcome, Reason
from inventory.rules.leaving import DISPOSE, TRANSFER
from inventory.selectors.counts import Difference, Progress, SchoolDue, Seen

MOST_NAMED = 5
MayAt = Callable[[str, int], bool]  # a permission, at a school
# What a count says first, with the tone of each.
TONES = {
    Outcome.FOUND: "plays",
    Outcome.CONFIRMED: "plays",
    Outcome.OTHER_ROOM: "limits",
    Outcome.OTHER_SCHOOL: "limits",
    Outcome.FOUND_AGAIN: "limits",
    Outcome.GONE_HERE: "limits",
    Outcome.UNKNOWN: "silent",
    Outcome.NOT_FOUND: "silent",
}
SHEET_HEADER = (
    _("Number"), _("Second number"), _("Kind"), _("Maker"), _("Model"), _("Serial"), _("School"), _("Room in the register"), _("Result"), _("Room seen in"),
    _("Seen by"), _("Seen at"), _("Scanned as"), _("Settled"), _("Note"),
)  # fmt: skip


def may_know(sighting: Sighting, *, schools: frozenset[int] | None) -> bool:
    """Whether somebody who sees these schools (None: all) may be shown which instrument it is."""
    return sighting.instrument is not None and (schools is None or sighting.instrument.school_id in schools)


def owner_of(sighting: Sighting, *, schools: frozenset[int] | None) -> str:
    """Name the school of what was scanned by its tag, as the tag's public page does; "" of a number that was typed."""
    if sighting.instrument is None or may_know(sighting, schools=schools) or not token_in(sighting.text):
        return ""
    return sighting.instrument.school.name


def sighting_line(sighting: Sighting, *, schools: frozenset[int] | None, is_blind: bool) -> dict[str, Any]:
    """Return one sighting as the counters see it: in a blind count without what the register says."""
    knows = may_know(sighting, schools=schools)
    outcome = Outcome(sighting.outcome)
    owner = owner_of(sighting, schools=schools)
    words = str(OUTCOME_LABELS[outcome])
    if not knows and outcome is not Outcome.UNKNOWN:
        outcome = Outcome.OTHER_SCHOOL if owner else Outcome.UNKNOWN
        words = gettext("Belongs to %(school)s") % {"school": owner} if owner else str(OUTCOME_LABELS[outcome])
    elif outcome is Outcome.OTHER_ROOM and sighting.instrument:
        room = sighting.instrument.room
        words = gettext("Register: %(room)s") % {"room": room} if room else gettext("Register: no room")
    elif outcome is Outcome.OTHER_SCHOOL and sighting.instrument:
        words = gettext("Belongs to %(school)s") % {"school": sighting.instrument.school}
    return {
        "sighting": sighting,
        "instrument": sighting.instrument if knows else None,
        "title": sighting.instrument.asset_number if knows and sighting.instrument else shown_text(sighting, owner),
        "words": "" if is_blind else words,
        "tone": "" if is_blind else TONES.get(outcome, ""),
    }


def shown_text(sighting: Sighting, owner: str) -> str:
    return gettext("A tag") if owner or token_in(sighting.text) else sighting.text


def as_known(differences: Iterable[Difference], *, schools: frozenset[int] | None) -> list[Difference]:
    """Return differences without the instruments of other schools: those go by what was scanned or typed."""
    return [
        one if one.sighting is None or may_know(one.sighting, schools=schools) else replace(one, instrument=None)
        for one in differences
    ]


def scan_text(seen: Seen, line: Mapping[str, Any]) -> str:
    """Return what is announced after a scan."""
    sighting = seen.sighting
    if not seen.is_new:
        data = {
            "number": line["title"],
            "who": sighting.actor,
            "time": date_format(localtime(sighting.seen_at), gettext("g:i a")),
            "room": sighting.room,
        }
        if sighting.room:
            return gettext("%(number)s was already counted by %(who)s at %(time)s in %(room)s. It counts once.") % data
        return gettext("%(number)s was already counted by %(who)s at %(time)s. It counts once.") % data
    if not line["words"]:
        return gettext("%(number)s is recorded.") % {"number": line["title"]}
    return f"{line['title']}: {line['words']}"


def refusal_of(scan: Scan, *, text: str) -> str:
    """Return why a scan is not recorded; "" where it is."""
    if scan.accessory is not None:
        words = gettext("That is the tag of its %(name)s. Scan the instrument's own.")
        return words % {"name": scan.accessory}
    if scan.several:
        numbers = ", ".join(one.asset_number for one in scan.several[:MOST_NAMED])
        return gettext("%(text)s may be %(numbers)s. Type the whole number.") % {"text": text, "numbers": numbers}
    return ""


def scope_words(count: Count, rooms: Sequence[Any]) -> str:
    """Name what is counted."""
    if count.is_whole:
        return gettext("The whole school")
    return ", ".join(room.name for room in rooms)


def stats_of(progress: Progress, *, is_blind: bool) -> list[dict[str, Any]]:
    """Return the sums above a count; a blind one says only how many were seen."""
    if is_blind:
        return [{"sum": progress.sightings, "what": gettext("recorded")}]
    seen = progress.seen
    elsewhere = seen[Outcome.OTHER_ROOM] + seen[Outcome.OTHER_SCHOOL]
    again, gone, unknown = (seen[one] for one in (Outcome.FOUND_AGAIN, Outcome.GONE_HERE, Outcome.UNKNOWN))
    rows = [
        (f"{progress.expected_seen}/{progress.expected}", gettext("expected and seen"), True),
        (progress.unseen, gettext("not seen"), True),
        (elsewhere, gettext("found elsewhere"), True),
        (unknown, ngettext("unknown number", "unknown numbers", unknown), True),
        (again, gettext("back from missing"), again),
        (gone, gettext("recorded as gone, but here"), gone),
        (seen[Outcome.CONFIRMED], gettext("lent or out, and shown"), seen[Outcome.CONFIRMED]),
    ]
    return [{"sum": total, "what": what} for total, what, is_shown in rows if is_shown]


def due_line(one: SchoolDue) -> dict[str, Any]:
    """Return a school with when it is due, in words."""
    due = one.due
    if due.on is None:
        words, tone = gettext("never counted"), "limits"
    elif due.is_overdue:
        words, tone = gettext("overdue since %(day)s") % {"day": full_day(due.on)}, "silent"
    else:
        words, tone = gettext("due by %(day)s") % {"day": full_day(due.on)}, "limits" if due.is_near else ""
    last = gettext("Last counted %(day)s") % {"day": full_day(one.last)} if one.last else ""
    return {"school": one.school, "count": one.open_count, "words": words, "tone": tone, "last": last}


def due_lines(dues: Iterable[SchoolDue]) -> list[dict[str, Any]]:
    """Return every school, the most urgent first."""
    ranked = sorted(dues, key=lambda one: (not one.due.is_overdue, one.due.on is not None, one.due.on or date.max))
    return [due_line(one) for one in ranked]


def notice_of(dues: Sequence[SchoolDue]) -> dict[str, Any] | None:
    """Return what the first page says of counts: those under way, and what is due soon or overdue; None: nothing."""
    open_counts = [one.open_count for one in dues if one.open_count]
    near = [due_line(one) for one in dues if not one.open_count and (one.due.is_overdue or one.due.is_near)]
    if not open_counts and not near:
        return None
    overdue = sum(line["tone"] == "silent" for line in near)
    words = ngettext("%(n)d school is due to be counted", "%(n)d schools are due to be counted", len(near))
    return {
        "open": open_counts,
        "near": near,
        "words": words % {"n": len(near)},
        "overdue": overdue,
        "one": near[0] if len(near) == 1 else None,
    }


def difference_groups(form: SettleForm) -> list[dict[str, Any]]:
    """Return the differences by what they are, each with its fields."""
    groups = []
    for outcome, some in groupby(form.differences.values(), key=attrgetter("outcome")):
        lines = [difference_line(one) | {
            "reason": form[f"reason-{one.key}"], "note": form[f"note-{one.key}"],
        } for one in some]  # fmt: skip
        groups.append({
            "title": OUTCOME_LABELS[outcome],
            "all": form[f"all-{outcome}"] if len(lines) > 1 else None,
            "lines": lines,
        })  # fmt: skip
    return groups


def difference_line(one: Difference) -> dict[str, Any]:
    """Return where the register has it, and where it was seen."""
    facts = []
    if one.line is not None:
        facts.append(gettext("Register: %(room)s") % {"room": one.line.room or gettext("no room")})
    if one.sighting is not None:
        seen = one.sighting
        if one.outcome is Outcome.OTHER_ROOM and one.instrument:
            facts.append(gettext("Register: %(room)s") % {"room": one.instrument.room or gettext("no room")})
        if seen.instrument and seen.instrument.school_id != seen.count.school_id:
            facts.append(gettext("Belongs to %(school)s") % {"school": seen.instrument.school})
        where = gettext("Seen in %(room)s by %(who)s") if seen.room else gettext("Seen by %(who)s")
        facts.append(where % {"room": seen.room, "who": seen.actor})
    return {
        "instrument": one.instrument,
        "title": one.number,
        "facts": facts,
    }


def sheet_groups(rows: Iterable[SheetRow]) -> list[tuple[str, int]]:
    """Return how many rows have each result, in the order in which results are named."""
    counts: dict[Outcome, int] = {}
    for row in rows:
        counts[row.outcome] = counts.get(row.outcome, 0) + 1
    return [(str(label), counts[outcome]) for outcome, label in OUTCOME_LABELS.items() if outcome in counts]


def sheet_instrument(row: SheetRow, *, schools: frozenset[int] | None) -> Instrument | None:
    """Return the instrument of a row for somebody who sees these schools (None: all): it was expected, or is theirs."""
    is_known = row.line is not None or (row.sighting is not None and may_know(row.sighting, schools=schools))
    return row.instrument if is_known else None


def sheet_title(row: SheetRow, *, schools: frozenset[int] | None) -> str:
    instrument = sheet_instrument(row, schools=schools)
    if instrument is not None or row.sighting is None:
        return instrument.asset_number if instrument else ""
    return shown_text(row.sighting, "")


class Next(NamedTuple):
    """What follows from a reason: the page, the words of its link, who may, and where the instrument must be yet."""

    page: str
    words: Promise
    needed: str
    while_it_is: frozenset[str] = frozenset(Whereabouts.values) - {Whereabouts.GONE}


NEXT: Mapping[Reason, Next] = {
    Reason.MISSING: Next(
        "desk:leave", _("Write it off as lost or stolen"), DISPOSE, frozenset({Whereabouts.NOT_FOUND})
    ),
    Reason.UNREADABLE: Next("inventory:tags", _("New tag"), "inventory.manage_tags"),
    Reason.NOT_RECORDED: Next("desk:lend-this", _("Hand it out"), "desk.lend", frozenset({Whereabouts.IN_STORE})),
    Reason.ENTERED_TWICE: Next("desk:merge", _("Merge the two records"), "inventory.change_instrument"),
    Reason.GONE: Next("desk:leave", _("Record how it left"), DISPOSE),
    Reason.LOAN_TO_SETTLE: Next(
        "desk:take-back", _("Take it back"), "desk.take_back", frozenset({Whereabouts.NOT_FOUND})
    ),
    Reason.TRANSFER: Next("desk:offer", _("Offer it to this school"), TRANSFER, frozenset({Whereabouts.IN_STORE})),
    Reason.CORRECT: Next("desk:leave", _("See how it left"), DISPOSE, frozenset({Whereabouts.GONE})),
}  # TO_REGISTER leads to a record that is still to be made


def next_act(row: SheetRow, instrument: Instrument | None, *, count: Count, may: MayAt) -> dict[str, str] | None:
    """Return the link to what follows from how a difference was settled, for who may do it, until it is done."""
    reason = Reason(row.difference.reason) if row.difference else None
    if reason is Reason.TO_REGISTER and may("inventory.add_instrument", count.school_id):
        return {"url": reverse("inventory:add"), "words": gettext("Add it")}
    then = NEXT.get(reason) if reason else None
    if then is None or instrument is None or instrument.merged_into_id is not None:
        return None
    is_there = reason is Reason.TRANSFER and instrument.school_id == count.school_id  # transferred since
    if is_there or instrument.whereabouts not in then.while_it_is or not may(then.needed, instrument.school_id):
        return None
    return {"url": reverse(then.page, args=[instrument.asset_number]), "words": str(then.words)}


def settled_lines(
    rows: Iterable[SheetRow], *, count: Count, schools: frozenset[int] | None, may: MayAt
) -> list[dict[str, Any]]:
    """Return the differences of a count, each with how it was settled and what follows from that."""
    return [
        {
            "next": next_act(row, sheet_instrument(row, schools=schools), count=count, may=may),
            "instrument": sheet_instrument(row, schools=schools),
            "title": sheet_title(row, schools=schools),
            "outcome": OUTCOME_LABELS[row.outcome],
            "reason": REASON_LABELS[Reason(row.difference.reason)] if row.difference else "",
            "note": row.difference.note if row.difference else "",
        }
        for row in rows
        if row.outcome in REASONS
    ]


def sheet_cells(rows: Iterable[SheetRow], *, schools: frozenset[int] | None) -> Iterator[tuple[OutValue, ...]]:
    """Yield the rows of a count as a file has them, for somebody who sees these schools."""
    for row in rows:
        what, seen, settled = sheet_instrument(row, schools=schools), row.sighting, row.difference
        yield (
            what.asset_number if what else "",
            what.second_number if what else "",
            what.kind.name if what else "",
            what.maker if what else "",
            what.model if what else "",
            what.serial if what else "",
            what.school.name if what else "",
            row.line.room.name if row.line and row.line.room else "",
            str(OUTCOME_LABELS[row.outcome]),
            seen.room.name if seen and seen.room else "",
            seen.actor.name if seen else "",
            localtime(seen.seen_at).strftime("%Y-%m-%d %H:%M") if seen else "",
            seen.text if seen else "",
            str(REASON_LABELS[Reason(settled.reason)]) if settled else "",
            settled.note if settled else "",
        )
