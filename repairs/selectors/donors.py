"""Instruments kept for parts: what is wrong with them, what went where, and which parts were tried on what."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from django.db.models import Count, Exists, OuterRef, Q, QuerySet

from inventory.catalog.load import catalog
from inventory.catalog.schema import MISSING_PART
from inventory.models import Closed, Finding, Instrument, PartLook, Purpose
from inventory.rules.facts import FindingFact
from repairs.models import PartsInstrument, TakenPart
from repairs.rules.matched import Spot, spots_words

SHOWN_DONORS = 3
THERE_SINCE = (Closed.REPAIRED, Closed.NOT_SEEN)  # it has another one, or somebody looked


def standing_findings(instrument: Instrument) -> tuple[FindingFact, ...]:
    """Return what stands against an instrument. One query."""
    return tuple(Finding.objects.filter(instrument=instrument).standing().facts())


def out_of(parts_instrument: PartsInstrument) -> frozenset[Spot]:
    """Return what was taken off it since it is kept for parts, and not put back. One query."""
    return frozenset(parts_instrument.taken.gone().values_list("part", "place"))


def taken_words(rows: Sequence[TakenPart]) -> str:
    """Say what was taken together: "bell", "pistons, 3 as a set"."""
    parts = rows[0].parts_instrument.instrument.parts
    return spots_words(parts, [(row.part, row.place) for row in rows], sets=catalog().fitted_sets)


def unsaid_parts() -> QuerySet[TakenPart]:
    """Return what was taken off an instrument that does not say so. One query.

    No finding calls the part missing, and nobody has repaired it or seen it there since. A hand-out may be filled in
    from what was known, so it is no look at a part.
    """
    donor, part = OuterRef("parts_instrument__instrument"), OuterRef("part")
    missing = Finding.objects.filter(instrument=donor, part=part, fault=MISSING_PART).filter(
        Q(place=OuterRef("place")) | Q(place=""),
        Q(closed_at=None) | Q(closed_at__gte=OuterRef("taken_at"), closed_because__in=THERE_SINCE),
        inspection__finished_at__isnull=False,
    )
    looks = PartLook.objects.filter(
        inspection__instrument=donor, part=part, inspection__finished_at__gt=OuterRef("taken_at")
    ).exclude(inspection__purpose=Purpose.HAND_OUT)
    rows = TakenPart.objects.gone().filter(~Exists(missing), ~Exists(looks))
    return rows.select_related("parts_instrument__instrument__school", "onto", "taken_by").order_by("pk")


def taken_differences() -> Iterator[tuple[int, str]]:
    """What was taken and not put back, against what is missing on the instrument it came from."""
    for row in unsaid_parts():
        donor = row.parts_instrument.instrument
        words = f"{taken_words([row])} was taken for {row.onto.asset_number}, but is not missing there"
        yield donor.pk, f"{donor.asset_number}: {words}"


def taken_from(parts_instrument: PartsInstrument) -> QuerySet[TakenPart]:
    """Return what it gave, latest first."""
    return TakenPart.objects.filter(parts_instrument=parts_instrument).for_lines()


def donors_having(part: str, place: str, *, instrument: Instrument, user: Any) -> list[PartsInstrument]:
    """Return the parts instruments of the same kind that still have a part, where this user may take it. One query."""
    missing = Finding.objects.standing().filter(
        Q(place=place) | Q(place=""), instrument=OuterRef("instrument"), part=part, fault=MISSING_PART
    )
    out = TakenPart.objects.gone().filter(parts_instrument=OuterRef("pk"), part=part, place=place)
    rows = PartsInstrument.objects.visible_to(user, "repairs.take_part").there()
    rows = rows.filter(~Exists(missing), ~Exists(out), instrument__kind_code=instrument.kind_code)
    return list(rows.select_related("instrument__school").order_by("instrument__asset_number")[:SHOWN_DONORS])


def parts_moved(instrument: Instrument) -> list[TakenPart]:
    """Return what went onto this instrument or came off it, latest first. One query."""
    return list(TakenPart.objects.moved(instrument).for_lines())


def fits_noted(*, kind: str = "") -> QuerySet[TakenPart]:
    """Return the parts whose fit was noted, across the district, latest first."""
    # Prefetched: in a join SQLite would walk the instruments of the whole district first.
    rows = (
        TakenPart.objects.exclude(fit="")
        .exclude(went=TakenPart.Went.SLIP)
        .prefetch_related("parts_instrument__instrument", "onto")
    )
    return (rows.filter(onto__kind_code=kind) if kind else rows).order_by("-taken_at", "pk")


def parts_instruments_for_list(user: Any) -> list[PartsInstrument]:
    """Return the standing parts instruments the user may see, with how much each has given. One query."""
    rows = PartsInstrument.objects.visible_to(user).there().keys_first().select_related("instrument__school")
    return list(
        rows.annotate(given=Count("taken", filter=Q(taken__went__in=TakenPart.GONE))).order_by(
            "instrument__kind_code", "instrument__asset_number"
        )
    )
