"""What a finished inspection says: verdict, effects in three groups, readiness with what would clear it."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from datetime import date
from typing import Any

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.timezone import localtime
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from inventory.catalog.load import catalog
from inventory.catalog.schema import Kind
from inventory.models import Inspection, Instrument, Purpose, Readiness, Whereabouts
from inventory.pages.drawing import marks_of, photo_lines
from inventory.pages.inspecting import found_line
from inventory.rules.readiness import aged_reason, is_unsafe_or_silent
from inventory.rules.verdict import EffectGroup
from inventory.selectors.charts import unconfirmed_chart
from inventory.selectors.inspecting import instrument_now, newest_finished
from inventory.selectors.standing import standing_of
from inventory.selectors.state import state_words_of

GROUPS = (("stops", _("Stops playing")), ("limits", _("Limits playing")), ("looks", _("Does not affect playing")))
# What clears a reason -> (page, button, permission). What belongs to the apps above is named, never imported.
CLEARING: Mapping[str, tuple[str, Promise, str]] = {
    "inspect": ("inventory:inspect", _("Inspect it"), "inventory.inspect_instrument"),
    "repair": ("repairs:open-job", _("Start a repair job"), "repairs.open_job"),
    "play_test": ("inventory:play-test", _("Play-test it"), "inventory.play_test_instrument"),
    "take_back": ("desk:take-back", _("Take it back"), "loans.return_instrument"),
    "find": ("inventory:whereabouts", _("Record where it is"), "inventory.move_instrument"),
    "clean": ("inventory:hygiene", _("Record a cleaning"), "inventory.clean_instrument"),
    "count_accessories": ("inventory:accessories", _("Count accessories"), "inventory.inspect_instrument"),
}
OPEN_JOB = _("Open the job")  # on the bench, where one is begun already


def inspection_result(inspection: Inspection, *, today: date) -> dict[str, Any]:
    """What templates/inventory/walk_result.html shows of a walk that is no longer a draft.

    The effects are those of everything that stands; the findings are the walk's own.
    """
    instrument = instrument_now(inspection)
    is_newest = newest_finished(instrument) == inspection
    standing = standing_of(instrument)
    kind = kind_inspected(inspection, instrument)
    parts = {part.code: part for part in kind.parts}
    groups = [
        (code, title, [effect.sentence for effect in standing.judgement.group(EffectGroup(code))])
        for code, title in GROUPS
    ]
    label, url = next_act(inspection, instrument)
    aged = aged_reason(ready_until=instrument.ready_until, today=today)
    return {
        "inspection": inspection,
        "instrument": instrument,
        "title": gettext("Inspected") if inspection.finished_at else gettext("Discarded"),
        "over": heading_words(inspection, instrument),
        "is_newest": is_newest,
        "verdict": instrument.verdict if is_newest else inspection.verdict,
        "standing": standing,
        "groups": groups,
        "found": [
            (parts[row.part].name if row.part in parts else row.part, found_line(row, parts=parts))
            for row in inspection.findings.all()
        ],
        "readiness": Readiness.STAYS_IN.value if aged else instrument.readiness,
        "stops": is_unsafe_or_silent(instrument.readiness_reasons),
        "reasons": reason_lines(instrument, below={sentence for *_, sentences in groups for sentence in sentences}),
        "photos": photo_lines(kind, inspection.photos.all()),
        "next_label": label,
        "next_url": url,
        "marks": marks_of(standing),
        "unconfirmed": unconfirmed_chart(standing.chart),
    }


def kind_inspected(inspection: Inspection, instrument: Instrument) -> Kind:
    """Return the kind that it was inspected as: another one, where it had been entered as that."""
    return catalog().kind(inspection.under_kind) if inspection.under_kind else instrument.kind


def heading_words(inspection: Inspection, instrument: Instrument) -> str:
    """Say "TD-0003 · Trumpet · spot check · Nov 3, 2026, 9:12 a.m. · Fern Tech"."""
    kind = kind_inspected(inspection, instrument)
    words = [instrument.asset_number, kind.name, inspection.get_purpose_display().lower()]
    if inspection.finished_at:
        words += [date_format(localtime(inspection.finished_at), gettext("M j, Y, g:i a")), str(inspection.actor)]
    return " · ".join(words)


def reason_lines(instrument: Instrument, *, below: AbstractSet[str]) -> list[dict[str, str]]:
    """Return the reasons; those that stand below as findings are only counted.

    Of several in a row that one act clears, the last has its link.
    """
    reasons = state_words_of([instrument])[instrument.pk].reasons
    shown = [reason for reason in reasons if reason["text"] not in below]
    if count := len(reasons) - len(shown):
        words = ngettext("%(count)d finding, below.", "%(count)d findings, below.", count)
        shown.append({"text": words % {"count": count}, "clears": "repair"})
    lines = [reason_line(reason, instrument) for reason in shown]
    for line, following in itertools.pairwise(lines):
        if line["url"] == following["url"]:
            line["url"] = ""
    return lines


def reason_line(reason: dict[str, Any], instrument: Instrument) -> dict[str, str]:
    if reason["clears"] == "answer_report":
        return {"text": reason["text"], "url": reverse("inventory:reports"), "action": gettext("Read the report")}
    name, action, _permission = CLEARING.get(reason["clears"], ("", "", ""))
    url = reverse(name, args=[instrument.asset_number]) if name else ""
    if reason["clears"] == "repair" and instrument.whereabouts == Whereabouts.ON_BENCH:
        action = OPEN_JOB
    return {"text": reason["text"], "url": url, "action": str(action)}


def next_act(inspection: Inspection, instrument: Instrument) -> tuple[str, str]:
    """Return what most likely comes after this walk, and where."""
    number = instrument.asset_number
    if inspection.purpose == Purpose.HAND_OUT and instrument.whereabouts == Whereabouts.IN_STORE:
        return gettext("Continue lending"), reverse("desk:lend-this", args=[number])
    if inspection.purpose == Purpose.RETURN and instrument.whereabouts == Whereabouts.WITH_STUDENT:
        return gettext("Continue the return"), reverse("desk:take-back", args=[number])
    if inspection.purpose == Purpose.RETURN and instrument.whereabouts == Whereabouts.IN_STORE:
        return gettext("Next on the pile"), reverse("desk:to-inspect")
    if instrument.whereabouts == Whereabouts.ON_BENCH:
        return str(OPEN_JOB), reverse("repairs:open-job", args=[number])
    return gettext("Open the instrument"), reverse("desk:instrument", args=[number])
