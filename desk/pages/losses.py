"""A case of loss in words."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from core.days import full_day
from core.money import dollars
from desk.selectors.losses import Case, ClaimFile
from inventory.models import VERDICT_LABELS, Disposal, Inspection, Instrument, Verdict
from inventory.selectors.setup import district_name
from loans.models import Loss
from loans.rules.losses import Kind, Next, Then, steps_of
from loans.selectors.losses import days_done


def next_words(coming: Next) -> str:
    """Return what to do next, in a sentence."""
    if coming.step is not None:
        return gettext(coming.step.words)
    if coming.then is Then.SEARCH:
        return gettext("Keep searching until %(day)s") % {"day": full_day(coming.by)}
    if coming.then is Then.CHARGE:
        return gettext("Decide whether the family is charged")
    return gettext("End the case: found, or given up")


def case_line(case: Case, *, today: date) -> dict[str, Any]:
    """Return a line of Today and of the list."""
    loss, coming = case.loss, case.next
    is_late = coming.step is not None and coming.by < today
    return {
        "url": reverse("desk:loss", args=[loss.loan_id]),
        "instrument": loss.loan.instrument,
        "sort": loss.get_sort_display(),
        "noticed": full_day(loss.noticed_on),
        "next": next_words(coming),
        "by": gettext("by %(day)s") % {"day": full_day(coming.by)} if coming.step else "",
        "is_late": is_late,
    }


def claim_page(file: ClaimFile) -> dict[str, Any]:
    """Return what the file for a claim says."""
    loss, loan = file.loss, file.loss.loan
    instrument = loan.instrument
    value = loan.replacement_amount
    return {
        "title": gettext("%(what)s instrument: %(kind)s %(number)s")
        % {"what": loss.get_sort_display(), "kind": instrument.kind.name, "number": instrument.asset_number},
        "over": f"{district_name()} · {loan.school}",
        "instrument": _instrument(instrument),
        "numbers": _filled(
            (gettext("Noticed on"), full_day(loss.noticed_on)),
            (gettext("Where and when it was last seen"), loss.circumstances),
            (gettext("Police agency"), loss.police_agency),
            (gettext("Report number"), loss.police_number),
            (gettext("Insurer"), loss.insurer),
            (gettext("Claim number"), loss.claim_number),
        ),
        "value": _filled(
            (gettext("Replacement value in the agreement"), dollars(value, none="")),
            (gettext("Value when it was lost"), dollars(file.value.as_is_amount)),
            (gettext("How that was calculated"), f"{file.value.words}; {file.value.as_is_words}"),
        ),
        "history": [
            *((full_day(timezone.localdate(one.finished_at)), _inspected(one)) for one in reversed(file.inspections)),
            (full_day(loan.lent_on), gettext("Lent to a student of the school")),
            *([(full_day(timezone.localdate(file.agreement.signed_at)), _signed(file))] if file.agreement else []),
            (full_day(loss.noticed_on), gettext("Noticed: %(what)s") % {"what": loss.get_sort_display().lower()}),
            *((full_day(day), gettext(words)) for words, day in done_in_order(loss)),
        ],
        "is_lent": True,
        "photos": file.photos,
        "days": [full_day(timezone.localdate(photo.taken_at)) for photo in file.photos],
    }


def report_page(disposal: Disposal, file: ClaimFile | None) -> dict[str, Any]:
    """Return what the report of a loss or theft says: the findings, and the file of the family's claim if given."""
    instrument = disposal.instrument
    findings = _filled(
        (gettext("What the investigation found"), disposal.findings),
        (gettext("Police agency"), disposal.police_agency),
        (gettext("Report number"), disposal.police_number),
        (gettext("Insurer"), disposal.insurer),
        (gettext("Claim number"), disposal.claim_number),
        (gettext("Awarding agency notified"), _day(disposal.agency_notified_on)),
        (gettext("Written off on"), full_day(disposal.on)),
        (gettext("Approved by"), str(disposal.approved_by or "")),
    )
    if file is not None:
        return claim_page(file) | {"findings": findings, "is_lent": True}
    return {
        "title": gettext("%(what)s: %(kind)s %(number)s")
        % {"what": disposal.get_way_display(), "kind": instrument.kind.name, "number": instrument.asset_number},
        "over": f"{district_name()} · {instrument.school}",
        "instrument": _instrument(instrument),
        "numbers": _filled((gettext("What happened"), disposal.because)),
        "value": _filled(
            (gettext("Value when it was lost"), dollars(disposal.value_amount, none="")),
            (gettext("Fair market value"), dollars(disposal.market_amount, none="")),
        ),
        "history": [
            *((full_day(timezone.localdate(one.finished_at)), _inspected(one)) for one in _last_inspections(disposal)),
            (full_day(disposal.on), str(disposal.get_way_display())),
        ],
        "photos": (),
        "days": [],
        "findings": findings,
        "is_lent": False,
    }


def _last_inspections(disposal: Disposal) -> list[Inspection]:
    rows = disposal.instrument.inspections.finished().filter(finished_at__lte=disposal.recorded_at)
    return list(rows.order_by("-finished_at", "-pk")[:3])[::-1]


def _day(day: date | None) -> str:
    return full_day(day) if day else ""


def done_in_order(loss: Loss) -> list[tuple[str, date]]:
    """Return each step that was done with its day, in the order they were done."""
    done = days_done(loss)
    steps = [(step.words, done[step.code]) for step in steps_of(Kind(loss.sort)) if step.code in done]
    return sorted(steps, key=lambda one: one[1])


def _instrument(instrument: Instrument) -> list[tuple[str, str]]:
    return _filled(
        (gettext("Number on the tag"), instrument.asset_number),
        (gettext("Kind"), instrument.kind.name),
        (gettext("Serial number"), instrument.serial or gettext("none")),
        (gettext("Maker, model"), ", ".join(filter(None, (instrument.maker, instrument.model)))),
        (gettext("Acquired"), _acquired(instrument)),
        (gettext("Purchase price"), dollars(instrument.acquisition_cost_amount, none="")),
    )


def _filled(*lines: tuple[str, str]) -> list[tuple[str, str]]:
    return [(name, value) for name, value in lines if value]


def _acquired(instrument: Instrument) -> str:
    day = full_day(instrument.acquired_on) if instrument.acquired_on else ""
    return ", ".join(filter(None, (str(instrument.get_acquired_by_display()), day)))


def _inspected(inspection: Inspection) -> str:
    verdict = VERDICT_LABELS[Verdict(inspection.verdict or Verdict.NOT_INSPECTED)]
    purpose = str(inspection.get_purpose_display()).lower()
    return gettext("Inspected (%(purpose)s): %(verdict)s") % {"purpose": purpose, "verdict": str(verdict).lower()}


def _signed(file: ClaimFile) -> str:
    signed = file.agreement.get_signed_display() if file.agreement else ""
    return gettext("Agreement: %(how)s") % {"how": signed.lower()}
