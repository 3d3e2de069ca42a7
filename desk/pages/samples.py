"""Samples in words: the plan, what the register said, what was found and what it says of the fleet, and the paper."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from core.money import percent
from core.sheets import OutValue
from inventory.catalog.load import catalog
from inventory.models import VERDICT_LABELS, Sample, SampleItem, Tested, Whereabouts
from inventory.rules.sampling import HYPERGEOMETRIC, SamplePlan, allocate
from inventory.rules.verdict import Verdict
from inventory.selectors.samples import Frame, Progress, redraw_line

LEFT_SHOWN, DEVIATING_SHOWN = 60, 100
ITEMS_HEADER = (
    _("Place"),
    _("Stratum"),
    _("Asset number"),
    _("Kind"),
    _("Maker"),
    _("Model"),
    _("Serial"),
    _("School"),
    _("Room"),
    _("Place in the room"),
    _("Whereabouts"),
    _("Condition"),
    _("Result"),
    _("Note"),
    _("Examined on"),
    _("Examined by"),
    _("Selection key"),
)
ITEMS_ON_PAPER = (0, 2, 3, 4, 6, 7, 8, 10, 11, 12, 13, 14, 15)  # there is no room for more


def fleet_words(sample: Sample) -> str:
    return sample.school.name if sample.school else gettext("The whole district")


def what_is_tested(sample: Sample) -> list[str]:
    words = [str(Tested(one).label) for one in sample.tested]
    return [*words, sample.tested_words] if sample.tested_words else words


def plan_words(*, found: SamplePlan, population: int) -> str:
    """How many to examine, in a sentence."""
    size = ngettext(
        "Examine %(size)s instrument of %(whole)s.", "Examine %(size)s instruments of %(whole)s.", found.size
    )
    text = size % {"size": f"{found.size:,}", "whole": f"{population:,}"}
    if not found.allowed:
        return f"{text} {gettext('The sample passes only if none deviates.')}"
    allowed = ngettext(
        "The sample passes with up to %(count)d deviation.",
        "The sample passes with up to %(count)d deviations.",
        found.allowed,
    )
    return f"{text} {allowed % {'count': found.allowed}}"


def strata_lines(found: SamplePlan, frame: Frame, *, words: Mapping[str, str]) -> list[dict[str, Any]]:
    """How many are drawn from each stratum; none where there are no strata."""
    if len(frame.strata) < 2:
        return []
    drawn = allocate(found.size, frame.counts)
    return [
        {"name": words.get(name, name), "count": count, "drawn": drawn[name]}
        for name, count in sorted(frame.counts.items())
    ]


def state_words(sample: Sample, *, left: int) -> str:
    if sample.stopped_because:
        return gettext("Stopped: %(why)s") % {"why": str(sample.get_stopped_because_display()).lower()}
    if not sample.is_open:
        return gettext("Finished")
    if left:
        return ngettext("%(count)d left to examine", "%(count)d left to examine", left) % {"count": left}
    return gettext("All examined, ready to finish")


def sample_lines(samples: Iterable[Any]) -> list[dict[str, Any]]:
    """A line for each sample, with its progress (``with_progress``)."""
    return [
        {
            "sample": one,
            "url": reverse("desk:sample", args=[one.pk]),
            "fleet": fleet_words(one),
            "state": state_words(one, left=one.left),
            "deviations": one.deviations,
        }
        for one in samples
    ]


# What a sample says


def conclusion_of(progress: Progress) -> dict[str, Any] | None:
    """What the whole sample says of the fleet, in plain words; None while it says nothing."""
    found, sample = progress.evaluation, progress.sample
    if found is None:
        return None
    values = {
        "count": progress.deviations,
        "size": f"{sample.size:,}",
        "confidence": percent(sample.confidence),
        "limit": f"{found.limit.percent:f}%",
        "tolerable": percent(sample.tolerable_rate),
        "allowed": sample.allowed,
    }
    seen = ngettext(
        "%(count)d of the %(size)s instruments deviates.",
        "%(count)d of the %(size)s instruments deviate.",
        progress.deviations,
    )
    lines = [seen % values if progress.deviations else gettext("None of the %(size)s instruments deviates.") % values]
    lines.append(gettext("At %(confidence)s confidence, no more than %(limit)s of the records are wrong.") % values)
    if found.is_passed:
        lines.append(
            gettext("That is within the %(tolerable)s that the plan accepts: the sample supports relying on the records "
                    "for what was tested.") % values
        )  # fmt: skip
    else:
        lines.append(
            gettext("That is more than the %(tolerable)s that the plan accepts: the sample does not support relying on "
                    "the records for what was tested. It does not prove that more than %(tolerable)s are wrong. Follow up "
                    "each deviation, have the register corrected, then test again.") % values
        )  # fmt: skip
    return {
        "is_passed": found.is_passed,
        "title": gettext("The records pass") if found.is_passed else gettext("The records do not pass"),
        "lines": lines,
        "rate": f"{float(found.found_rate) * 100:.1f}%",
        "limit": values["limit"],
        "allowed": found.allowed,
    }


def so_far_words(progress: Progress) -> str:
    """What can be said before everything was examined."""
    allowed, found = progress.sample.allowed, progress.deviations
    if found > allowed:
        return ngettext(
            "%(found)d deviation so far, more than the %(allowed)d that the plan allows. Examine the rest all the same: "
            "the limit is that of the whole sample.",
            "%(found)d deviations so far, more than the %(allowed)d that the plan allows. Examine the rest all the same: "
            "the limit is that of the whole sample.",
            found,
        ) % {"found": found, "allowed": allowed}
    return ngettext("%(found)d deviation so far; the plan allows %(allowed)d.",
                    "%(found)d deviations so far; the plan allows %(allowed)d.", found,
    ) % {"found": found, "allowed": allowed}  # fmt: skip


# Items


def recorded_facts(recorded: Mapping[str, str]) -> dict[str, str]:
    """What the register said of an instrument, in words by what it is about."""
    made = " ".join(filter(None, (recorded["maker"], recorded["model"])))
    where = " · ".join(filter(None, (recorded["school"], recorded["room"], recorded["place"])))
    return {
        gettext("Kind"): catalog().kind(recorded["kind"]).name,
        gettext("Maker and model"): made,
        gettext("Serial"): recorded["serial"],
        gettext("Kept at"): where,
        gettext("Whereabouts"): str(Whereabouts(recorded["whereabouts"]).label),
        gettext("Condition"): str(VERDICT_LABELS[Verdict(recorded["verdict"])]),
    }


def fact_lines(recorded: Mapping[str, str], now: Mapping[str, str]) -> list[dict[str, str]]:
    """What the register said when the sample was drawn, and what it says now where that differs."""
    then, today = recorded_facts(recorded), recorded_facts(now)
    return [
        {"label": label, "then": text or "—", "now": "" if today[label] == text else today[label] or "—"}
        for label, text in then.items()
    ]


def item_lines(items: Iterable[SampleItem]) -> list[dict[str, Any]]:
    """Items with where the register said they are, in the order of a walk through schools and rooms."""

    def walk(item: SampleItem) -> tuple[str, ...]:
        recorded = item.recorded
        return (recorded["school"], recorded["room"], recorded["place"], item.number)

    return [
        {
            "item": item,
            "url": reverse("desk:sample-item", args=[item.sample_id, item.place]),
            "kind": catalog().kind(item.recorded["kind"]).name,
            "where": " · ".join(filter(None, (item.recorded[name] for name in ("school", "room", "place")))),
            "whereabouts": str(Whereabouts(item.recorded["whereabouts"]).label),
        }
        for item in sorted(items, key=walk)
    ]


def item_rows(items: Iterable[SampleItem]) -> Iterator[tuple[OutValue, ...]]:
    for item in items:
        recorded = item.recorded
        yield (
            item.place, item.stratum, item.number, catalog().kind(recorded["kind"]).name, recorded["maker"], recorded["model"],
            recorded["serial"], recorded["school"], recorded["room"], recorded["place"],
            str(Whereabouts(recorded["whereabouts"]).label), str(VERDICT_LABELS[Verdict(recorded["verdict"])]),
            str(item.get_result_display()), item.note,
            timezone.localdate(item.examined_at) if item.examined_at else None,
            str(item.examined_by) if item.examined_by else "", item.key,
        )  # fmt: skip


# The working paper


def _recorded_words(recorded: Mapping[str, str]) -> str:
    state = (str(Whereabouts(recorded["whereabouts"]).label), str(VERDICT_LABELS[Verdict(recorded["verdict"])]))
    return " · ".join(filter(None, (recorded["room"], recorded["place"], recorded["serial"], *state)))


def paper_of(
    progress: Progress, items: Sequence[SampleItem], *, strata: Sequence[Mapping[str, Any]], is_same: bool, at: datetime
) -> dict[str, Any]:
    """What the working paper prints."""
    sample = progress.sample
    return {
        "sample": sample,
        "at": at,
        "fleet": fleet_words(sample),
        "tested": what_is_tested(sample),
        "confidence": percent(sample.confidence),
        "risk": percent(1 - sample.confidence),
        "tolerable": percent(sample.tolerable_rate),
        "expected": percent(sample.expected_rate),
        "population": f"{sample.population:,}",
        "size_words": plan_words(
            found=SamplePlan(sample.size, sample.allowed, sample.distribution), population=sample.population
        ),
        "is_hypergeometric": sample.distribution == HYPERGEOMETRIC,
        "strata": strata,
        "has_strata": len(strata) > 1,
        "redraw": redraw_line(sample),
        "is_same": is_same,
        "progress": progress,
        "deviations": progress.deviations,
        "conclusion": conclusion_of(progress),
        "state": state_words(sample, left=progress.left),
        "items": [
            {
                "item": item,
                "kind": catalog().kind(item.recorded["kind"]).name,
                "recorded": _recorded_words(item.recorded),
                "school": item.recorded["school"],
            }
            for item in items
        ],
    }
