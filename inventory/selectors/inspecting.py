"""What the inspection walk shows: each stop with what may be wrong there, what was known and what was found."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from django.urls import reverse

from inventory.catalog.load import catalog
from inventory.catalog.schema import Fault, FaultWay, Part, Role, RoleTag, Severity
from inventory.models import Accessory, Finding, Inspection, Instrument, Photo, Purpose, Whereabouts
from inventory.rules.picture.shapes import Mark
from inventory.selectors.drawing import marks_of
from inventory.selectors.standing import standing_of

# What a fault's own words leave open, as the rules read it: (detail, as said).
UP_OR_DOWN = (("up", "Stays up"), ("down", "Stays down"))
PULLED = (("", "All the way in"), *((f"pulled {mm} mm", f"Out {mm} mm") for mm in (5, 10, 15, 20)))
POSITIONS = tuple((f"position {number}", f"Position {number}") for number in range(1, 8))
UNSEEN, FINE, WRONG = "unseen", "fine", "wrong"


@dataclass(frozen=True, slots=True)
class SeverityChoice:
    code: str
    label: str
    words: str


@dataclass(frozen=True, slots=True)
class FaultChoice:
    code: str
    name: str
    test: str
    accept: str
    severities: tuple[SeverityChoice, ...]
    details: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class FoundLine:
    """A finding in words, with what a form needs to enter it again."""

    part: str
    place: str
    place_name: str
    fault: str
    name: str
    severity: str
    detail: str
    note: str

    @property
    def words(self) -> str:
        where = f"{self.place_name}: " if self.place_name else ""
        detail = f", {self.detail}" if self.detail else ""
        return f"{where}{self.name}{detail}"


@dataclass(frozen=True, slots=True)
class Stop:
    """One part on the walk."""

    number: int
    part: Part
    state: str
    found: tuple[FoundLine, ...]
    before: tuple[FoundLine, ...]
    photos: tuple[Photo, ...]
    href: str

    @property
    def code(self) -> str:
        return self.part.code


@dataclass(frozen=True, slots=True)
class AccessoryLine:
    row: Accessory
    count: int


@dataclass(frozen=True)
class WalkPage:
    inspection: Inspection
    instrument: Instrument
    stops: tuple[Stop, ...]
    accessories: tuple[AccessoryLine, ...]
    at: str  # a part's code, or a step: "@safety", "@accessories", "@finish"
    before_label: str
    marks: Mapping[str, Mark]

    @cached_property
    def seen(self) -> int:
        return sum(stop.state != UNSEEN for stop in self.stops)

    @cached_property
    def unseen(self) -> tuple[Stop, ...]:
        return tuple(stop for stop in self.stops if stop.state == UNSEEN)

    @cached_property
    def wrong(self) -> tuple[Stop, ...]:
        return tuple(stop for stop in self.stops if stop.found)

    @cached_property
    def links(self) -> dict[str, str]:
        return {stop.code: stop.href for stop in self.stops}

    @cached_property
    def current(self) -> Stop | None:
        return next((stop for stop in self.stops if stop.code == self.at), None)

    @cached_property
    def is_counted(self) -> bool:
        return bool(self.inspection.accessory_counts) or not self.accessories


@dataclass(frozen=True, slots=True)
class PurposeChoice:
    code: str
    label: str
    because: str
    is_begun: bool


PURPOSE_WORDS = {
    Purpose.INTAKE: "It is new here, or nobody has looked at it yet.",
    Purpose.HAND_OUT: "Filled from the last inspection; change what you see.",
    Purpose.RETURN: "Shown beside what was noted when it went out.",
    Purpose.BENCH: "Before or after work on it.",
    Purpose.YEARLY: "The whole walk, once a year.",
    Purpose.SPOT: "Something was noticed; look at what you like.",
}


def purposes_for(instrument: Instrument) -> tuple[PurposeChoice, ...]:
    """Return the walks that make sense now, the likeliest first; begun ones are taken up again."""
    begun = set(instrument.inspections.drafts().values_list("purpose", flat=True))
    likely: list[Purpose] = {
        Whereabouts.WITH_STUDENT.value: [Purpose.RETURN, Purpose.SPOT],
        Whereabouts.ON_BENCH.value: [Purpose.BENCH, Purpose.SPOT],
        Whereabouts.AT_SHOP.value: [Purpose.BENCH, Purpose.SPOT],
    }.get(instrument.whereabouts, [Purpose.SPOT, Purpose.YEARLY, Purpose.HAND_OUT])
    if instrument.inspected_at is None:
        likely = [Purpose.INTAKE]
    codes = [*(code for code in Purpose if code in begun), *(code for code in likely if code not in begun)]
    return tuple(
        PurposeChoice(code=code.value, label=code.label, because=PURPOSE_WORDS[code], is_begun=code in begun)
        for code in codes
    )


def where_it_stands(fault: Fault, *, role: Role) -> tuple[tuple[str, str], ...]:
    """Return what a finding may say of where the part stands: (detail, as said); () where it makes no difference."""
    if FaultWay.STANDS not in fault.ways:
        return ()
    if RoleTag.HAND_SLIDE in role.tags:
        return POSITIONS
    if RoleTag.VALVE in role.tags:
        return UP_OR_DOWN
    return PULLED if FaultWay.FIXES in fault.ways else ()


def fault_choices(part: Part) -> tuple[FaultChoice, ...]:
    """Return the faults that fit the part's role, most likely first."""
    trade = catalog()
    choices = []
    for code in trade.roles[part.role].faults:
        fault = trade.faults.get(code)
        words = fault.words if fault else {}
        choices.append(
            FaultChoice(
                code=code,
                name=trade.fault_name(code),
                test=fault.test if fault else "",
                accept=fault.accept if fault else "",
                severities=tuple(
                    SeverityChoice(
                        code=severity.value, label=severity.value.capitalize(), words=words.get(severity, "")
                    )
                    for severity in Severity
                ),
                details=where_it_stands(fault, role=trade.roles[part.role]) if fault else (),
            )
        )
    return tuple(choices)


def found_line(finding: Finding, *, parts: Mapping[str, Part]) -> FoundLine:
    part = parts.get(finding.part)
    place = next((spot.name for spot in part.places if spot.code == finding.place), "") if part else ""
    return FoundLine(
        part=finding.part,
        place=finding.place,
        place_name=place or finding.place,
        fault=finding.fault,
        name=catalog().fault_name(finding.fault),
        severity=finding.severity,
        detail=finding.detail,
        note=finding.note,
    )


def lines_by_part(findings: Sequence[Finding], *, parts: Mapping[str, Part]) -> dict[str, list[FoundLine]]:
    lines: dict[str, list[FoundLine]] = defaultdict(list)
    for finding in findings:
        lines[finding.part].append(found_line(finding, parts=parts))
    return lines


def walk_page(inspection: Inspection, *, at: str = "") -> WalkPage:
    """Gather the walk. ``at`` is where somebody wants to stand; "" is the next thing to do."""
    instrument = inspection.instrument
    parts = {part.code: part for part in instrument.parts}
    findings = list(inspection.findings.all())
    found = lines_by_part(findings, parts=parts)
    before, label = known_before(inspection, parts=parts)
    looked = set(inspection.looks.values_list("part", flat=True))
    photos: dict[str, list[Photo]] = defaultdict(list)
    for photo in inspection.photos.all():
        photos[photo.part].append(photo)
    stops = tuple(
        Stop(
            number=number,
            part=part,
            state=WRONG if found.get(part.code) else FINE if part.code in looked else UNSEEN,
            found=tuple(found.get(part.code, ())),
            before=tuple(before.get(part.code, ())),
            photos=tuple(photos.get(part.code, ())),
            href=reverse("inventory:walk-part", args=[inspection.pk, part.code]),
        )
        for number, part in enumerate(parts.values(), start=1)
    )
    accessories = tuple(
        AccessoryLine(row=row, count=inspection.accessory_counts.get(row.code, row.expected))
        for row in instrument.accessories.all()
    )
    return WalkPage(
        inspection=inspection,
        instrument=instrument,
        stops=stops,
        accessories=accessories,
        at=at or next_step(inspection, stops=stops, has_accessories=bool(accessories)),
        before_label=label,
        marks=marks_of(standing_of(instrument, findings=[finding.fact for finding in findings], is_inspected=True)),
    )


def next_step(inspection: Inspection, *, stops: Sequence[Stop], has_accessories: bool) -> str:
    if inspection.is_safe is None:
        return "@safety"
    unseen = next((stop.code for stop in stops if stop.state == UNSEEN), "")
    if unseen:
        return unseen
    return "@accessories" if has_accessories and not inspection.accessory_counts else "@finish"


def known_before(inspection: Inspection, *, parts: Mapping[str, Part]) -> tuple[dict[str, list[FoundLine]], str]:
    """Return what to show beside each part, and its heading: the walk it is compared with, else what stands."""
    if inspection.compared_with is not None:
        other = inspection.compared_with
        return lines_by_part(list(other.findings.all()), parts=parts), f"At {other.get_purpose_display().lower()}"
    standing = list(Finding.objects.filter(instrument=inspection.instrument).standing())
    return lines_by_part(standing, parts=parts), "Known so far"


def newest_hand_out(instrument: Instrument) -> Inspection | None:
    """The finished hand-out walk that a return is compared with."""
    return instrument.inspections.finished().filter(purpose=Purpose.HAND_OUT).order_by("-finished_at", "-pk").first()
