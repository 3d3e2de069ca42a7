"""Whether a new installation is still to be opened, and which of the first steps are done."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from django.db.models import Exists, OuterRef

from core.services.accounts import digest_of
from inventory.catalog.figures import BENCH_RATE, SCHOOL_YEAR_ENDS, TIME_ZONE
from inventory.models import District, Instrument, OpeningLink, Role, Room, School, StaffRole, Tag
from inventory.selectors.figures import in_force


class Standing(StrEnum):
    """What a link still does."""

    OPEN = "open"
    UNKNOWN = "unknown"
    EXPIRED = "expired"
    USED = "used"
    VOID = "void"  # somebody administers the district already


def has_administrator() -> bool:
    return StaffRole.objects.filter(role=Role.ADMINISTRATOR).exists()


def standing_of_link(link: OpeningLink | None, *, at: datetime) -> Standing:
    """What the link still does at this moment. One query."""
    if link is None:
        return Standing.UNKNOWN
    if link.used_at is not None:
        return Standing.USED
    if has_administrator():
        return Standing.VOID
    return Standing.OPEN if at < link.expires_at else Standing.EXPIRED


def link_of(token: str) -> OpeningLink | None:
    """The link with this token, of which only the hash is kept."""
    return OpeningLink.objects.filter(token_hash=digest_of(token)).first()


@dataclass(frozen=True, slots=True)
class FirstSteps:
    """The first steps by their codes, each with whether it is done, and whether the list was put aside."""

    done: Mapping[str, bool]
    is_aside: bool

    @property
    def is_finished(self) -> bool:
        return all(self.done.values())


def first_steps(*, at: datetime) -> FirstSteps | None:
    """Facts, not ticks: whatever is done elsewhere counts, and what is undone is to do again. Two queries.

    None before the district has a name.
    """
    roomless = School.objects.exclude(Exists(Room.objects.filter(school=OuterRef("pk"))))
    staff = StaffRole.objects.filter(role__in=[Role.DIRECTOR, Role.TECH], user__is_active=True)
    found = (
        District.objects.filter(pk=1)
        .annotate(
            has_school=Exists(School.objects.all()),
            has_roomless=Exists(roomless),
            has_staff=Exists(staff),
            has_instruments=Exists(Instrument.objects.all()),
            has_printed=Exists(Tag.objects.filter(printed_at__isnull=False)),
        )
        .values()
        .first()
    )
    if found is None:
        return None
    values = in_force(at=at).values
    done = {
        "district": True,
        "schools": found["has_school"] and not found["has_roomless"],
        "time_zone": TIME_ZONE in values,
        "bench_rate": BENCH_RATE in values,
        "school_year": SCHOOL_YEAR_ENDS in values,
        "people": found["has_staff"],
        "list": found["has_instruments"],
        "tags": found["has_printed"],
    }
    return FirstSteps(done=done, is_aside=found["first_steps_aside_at"] is not None)
