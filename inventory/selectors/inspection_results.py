"""What a finished inspection says: verdict, effects in three groups, readiness with what would clear it."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.urls import reverse

from inventory.models import Inspection, Instrument, Photo, Purpose, Readiness, Whereabouts
from inventory.rules.picture.shapes import Mark
from inventory.rules.readiness import aged_reason
from inventory.rules.standing import Standing
from inventory.selectors.charts import unconfirmed_chart
from inventory.selectors.drawing import marks_of
from inventory.selectors.inspecting import FoundLine, found_line
from inventory.selectors.standing import standing_of

GROUPS = (("stops", "Stops playing"), ("limits", "Limits playing"), ("looks", "Looks only"))
# What clears a reason -> (page, what to do). Pages of upper rooms are named, never imported.
CLEARING = {
    "inspect": ("inventory:inspect", "Inspect it"),
    "repair": ("repairs:open-job", "Start a repair job"),
    "play_test": ("inventory:play-test", "Play-test it"),
    "take_back": ("desk:take-back", "Take it back"),
    "find": ("inventory:whereabouts", "Say where it is"),
    "clean": ("inventory:hygiene", "Clean it and say so"),
    "count_accessories": ("inventory:accessories", "Count what is there"),
}


@dataclass(frozen=True, slots=True)
class InspectionResult:
    inspection: Inspection
    instrument: Instrument
    is_newest: bool
    verdict: str
    standing: Standing
    groups: Sequence[tuple[str, str, Sequence[str]]]
    found: Sequence[tuple[str, FoundLine]]
    readiness: str
    reasons: Sequence[dict[str, str]]
    photos: Sequence[Photo]
    next_label: str
    next_url: str
    marks: Mapping[str, Mark]
    unconfirmed: str  # code of the chart where nobody has confirmed its fingerings, else ""


def inspection_result(inspection: Inspection, *, today: date) -> InspectionResult:
    """Gather it. For the newest walk the effects are those of everything that stands; for an older one, its findings."""
    instrument = Instrument.objects.select_related("school").get(pk=inspection.instrument_id)
    newest = instrument.inspections.finished().order_by("-finished_at", "-pk").first()
    standing = standing_of(instrument)
    parts = {part.code: part for part in instrument.parts}
    label, url = next_act(inspection, instrument)
    aged = aged_reason(ready_until=instrument.ready_until, today=today)
    return InspectionResult(
        inspection=inspection,
        instrument=instrument,
        is_newest=newest is not None and newest.pk == inspection.pk,
        verdict=instrument.verdict if newest and newest.pk == inspection.pk else inspection.verdict,
        standing=standing,
        groups=[
            (code, title, [effect.sentence for effect in standing.judgement.effects if effect.group.value == code])
            for code, title in GROUPS
        ],
        found=[
            (parts[row.part].name if row.part in parts else row.part, found_line(row, parts=parts))
            for row in inspection.findings.all()
        ],
        readiness=Readiness.STAYS_IN.value if aged else instrument.readiness,
        reasons=reason_lines(instrument),
        photos=list(inspection.photos.all()),
        next_label=label,
        next_url=url,
        marks=marks_of(standing),
        unconfirmed=unconfirmed_chart(standing.chart),
    )


def reason_lines(instrument: Instrument) -> list[dict[str, str]]:
    """The reasons; several that one act clears carry its link once, at the last."""
    lines = [reason_line(reason, instrument) for reason in instrument.readiness_reasons]
    for line, following in itertools.pairwise(lines):
        if line["url"] == following["url"]:
            line["url"] = ""
    return lines


def reason_line(reason: dict[str, Any], instrument: Instrument) -> dict[str, str]:
    if reason["clears"] == "answer_report":
        return {"text": reason["text"], "url": reverse("inventory:reports"), "action": "Read the report"}
    name, action = CLEARING.get(reason["clears"], ("", ""))
    url = reverse(name, args=[instrument.asset_number]) if name else ""
    return {"text": reason["text"], "url": url, "action": action}


def next_act(inspection: Inspection, instrument: Instrument) -> tuple[str, str]:
    """Return what somebody most likely does after this walk, and where."""
    number = instrument.asset_number
    if inspection.purpose == Purpose.HAND_OUT and instrument.whereabouts == Whereabouts.IN_STORE:
        return "Go on lending", reverse("desk:lend-this", args=[number])
    if inspection.purpose == Purpose.RETURN and instrument.whereabouts == Whereabouts.WITH_STUDENT:
        return "Go on taking back", reverse("desk:take-back", args=[number])
    return "To the instrument", reverse("desk:instrument", args=[number])
