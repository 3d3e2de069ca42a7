"""The inspection walk: each part with the faults it may have, what was known and what was found."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from inventory.catalog.load import catalog
from inventory.catalog.schema import Fault, FaultWay, Part, Role, RoleTag
from inventory.forms.inspecting import CountsForm
from inventory.models import Finding, Inspection, Instrument, Photo, Purpose, Whereabouts
from inventory.models.inspections import SEVERITY_LABELS
from inventory.pages.drawing import marks_of
from inventory.rules.playing.slides import POSITION
from inventory.selectors.inspecting import (
    WalkRows,
    begun_purposes,
    missing_parts,
    remarks_unread,
    walk_rows,
    without_missing,
)
from inventory.selectors.standing import standing_of

Details = tuple[tuple[str, str | Promise], ...]
# What the name of a fault leaves open, as the rules read it: (detail, label).
UP_OR_DOWN: Details = (("up", _("Stays up")), ("down", _("Stays down")))
PULLED, PULLED_MM = "pulled ", (5, 10, 15, 20, 30, 40)  # before a length, as the detail of a finding names it
POSITIONS = range(1, 8)
UNSEEN, FINE, WRONG = "unseen", "fine", "wrong"


PURPOSE_WORDS = {
    Purpose.INTAKE: _("It is new here, or has never been inspected."),
    Purpose.HAND_OUT: _("Filled in from the last inspection; change what you see."),
    Purpose.RETURN: _("Shown beside what was noted when it went out."),
    Purpose.BENCH: _("Before or after work on it."),
    Purpose.YEARLY: _("Every part, once a year."),
    Purpose.SPOT: _("Something was noticed; check any parts you like."),
}


def purposes_for(instrument: Instrument) -> list[dict[str, Any]]:
    """Return the walks that make sense now, most likely first; open ones come before all others."""
    begun = begun_purposes(instrument)
    likely = likely_purposes(instrument)
    codes = [*(code for code in Purpose if code in begun), *(code for code in likely if code not in begun)]
    return [{"purpose": code, "because": PURPOSE_WORDS[code], "is_begun": code in begun} for code in codes]


def likely_purposes(instrument: Instrument) -> list[Purpose]:
    """Return why one would inspect it now, as its row says; nothing is read."""
    if instrument.is_return_inspection_due:
        return [Purpose.RETURN]
    if instrument.inspected_at is None:
        return [Purpose.INTAKE]
    likely: dict[str, list[Purpose]] = {
        Whereabouts.WITH_STUDENT.value: [Purpose.RETURN, Purpose.SPOT],
        Whereabouts.ON_BENCH.value: [Purpose.BENCH, Purpose.SPOT],
        Whereabouts.AT_SHOP.value: [Purpose.BENCH, Purpose.SPOT],
    }
    return likely.get(instrument.whereabouts, [Purpose.SPOT, Purpose.YEARLY, Purpose.HAND_OUT])


def details_of(fault: Fault, *, role: Role) -> Details:
    """Return the choices for where the part is stuck: (detail, label); () where it makes no difference."""
    if FaultWay.STANDS not in fault.ways:
        return ()
    if RoleTag.HAND_SLIDE in role.tags:
        return tuple(
            (f"{POSITION}{number}", gettext("Position %(number)d") % {"number": number}) for number in POSITIONS
        )
    if RoleTag.VALVE in role.tags:
        return UP_OR_DOWN
    if FaultWay.FIXES not in fault.ways:
        return ()
    out = ((f"{PULLED}{mm} mm", gettext("Out %(mm)d mm") % {"mm": mm}) for mm in PULLED_MM)
    return (("", gettext("Not measured")), ("pulled 0 mm", gettext("All the way in")), *out)


def fault_choices(part: Part) -> list[dict[str, Any]]:
    """Return the faults that fit the part's role, most likely first, each with its severities in the trade's words."""
    trade, role = catalog(), catalog().roles[part.role]
    choices = []
    for code in trade.faults_offered(part):
        fault = trade.faults.get(code)
        words = fault.words if fault else {}
        choices.append(
            {
                "code": code,
                "name": trade.fault_name(code),
                "test": fault.test if fault else "",
                "accept": fault.accept if fault else "",
                "severities": [
                    (severity, label, words.get(severity, "")) for severity, label in SEVERITY_LABELS.items()
                ],
                "details": details_of(fault, role=role) if fault else (),
            }
        )
    return choices


def found_line(finding: Finding, *, parts: Mapping[str, Part]) -> dict[str, Any]:
    """A finding in words, with what a form needs to enter it again."""
    part, name = parts.get(finding.part), catalog().fault_name(finding.fault)
    place = part.place_name(finding.place) if part else finding.place
    detail = f", {finding.detail}" if finding.detail else ""
    return {
        "part": finding.part,
        "place": finding.place,
        "fault": finding.fault,
        "name": name,
        "words": f"{f'{place}: ' if place else ''}{name}{detail}",
        "severity": finding.severity,
        "detail": finding.detail,
        "note": finding.note,
    }


def lines_by_part(findings: Sequence[Finding], *, parts: Mapping[str, Part]) -> dict[str, list[dict[str, Any]]]:
    lines: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for finding in findings:
        lines[finding.part].append(found_line(finding, parts=parts))
    return lines


def blank_walk(instrument: Instrument) -> dict[str, Any]:
    """Show the walk of every instrument built like this one, before it has begun: what is kept on a phone."""
    inspection = Inspection(pk=0, instrument=instrument.likeness(), purpose=Purpose.SPOT)
    page = walk_page(inspection, rows=WalkRows())
    return page | {"is_blank": True}


def walk_page(inspection: Inspection, *, at: str = "", rows: WalkRows | None = None) -> dict[str, Any]:
    """Show the walk. ``at`` is the part or step that was asked for; "" is the next thing to do."""
    instrument = inspection.instrument
    parts = {part.code: part for part in instrument.parts}
    rows = rows or walk_rows(inspection)
    found, before = lines_by_part(rows.findings, parts=parts), lines_by_part(rows.before, parts=parts)
    photos: dict[str, list[Photo]] = defaultdict(list)
    for photo in rows.photos:
        photos[photo.part].append(photo)
    stops: tuple[dict[str, Any], ...] = tuple(
        {
            "number": number,
            "part": part,
            "code": part.code,
            "state": WRONG if found.get(part.code) else FINE if part.code in rows.checked else UNSEEN,
            "found": tuple(found.get(part.code, ())),
            "before": tuple(before.get(part.code, ())),
            "photos": tuple(photos.get(part.code, ())),
            "href": reverse("inventory:walk-part", args=[inspection.pk, part.code]),
        }
        for number, part in enumerate(parts.values(), start=1)
    )
    facts = [finding.fact for finding in rows.findings]
    expected = {row.code: row.expected for row in rows.accessories}
    counts = without_missing(
        expected | inspection.accessory_counts, accessories=rows.accessories, findings=rows.findings
    )
    accessories = CountsForm(accessories=rows.accessories, counts=counts).lines
    missing = missing_parts(rows.findings)
    at = at or next_step(inspection, stops=stops, has_accessories=bool(rows.accessories))
    return {
        "inspection": inspection,
        "instrument": instrument,
        "stops": stops,
        "seen": sum(stop["state"] != UNSEEN for stop in stops),
        "unseen": tuple(stop for stop in stops if stop["state"] == UNSEEN),
        "wrong": tuple(stop for stop in stops if stop["found"]),
        "links": {stop["code"]: stop["href"] for stop in stops},
        "remarks": remarks_unread(instrument)
        if instrument.pk
        else [],  # what a list said of it, until it has been inspected
        "at": at,  # a part's code, or a step: "@safety", "@accessories", "@finish"
        "current": next((stop for stop in stops if stop["code"] == at), None),
        "accessories": accessories,  # each with its count, as typed or else expected
        "is_counted": bool(inspection.accessory_counts) or not accessories,
        # Whether something that is counted at the end was found missing on the way.
        "is_short": any(row.code in missing for row in rows.accessories),
        # Whether it may well end with parts that nobody looked at.
        "is_of_some": inspection.purpose in {Purpose.SPOT, Purpose.BENCH},
        "before_label": before_label(inspection),
        "marks": marks_of(standing_of(instrument, findings=facts, is_inspected=True)),
    }


def next_step(inspection: Inspection, *, stops: Sequence[dict[str, Any]], has_accessories: bool) -> str:
    if inspection.is_safe is None:
        return "@safety"
    unseen = next((stop["code"] for stop in stops if stop["state"] == UNSEEN), "")
    if unseen:
        return unseen
    return "@accessories" if has_accessories and not inspection.accessory_counts else "@finish"


def before_label(inspection: Inspection) -> str:
    """The heading of what is shown beside each part: the walk it is compared with, else what stands."""
    if inspection.compared_with is None:
        return gettext("Known so far")
    return gettext("At %(purpose)s") % {"purpose": inspection.compared_with.get_purpose_display().lower()}
