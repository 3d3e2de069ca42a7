"""A count that two people signed and one under way, the same of samples, and the months that are over.

Draws no random numbers.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

from core.days import add_months
from core.models import User
from desk.demo.money import nonce_of
from desk.demo.stage import Stage
from desk.selectors.months import month_sums, months_to_keep
from inventory.models import Count, Instrument, Readiness, Room, Sample, SampleItem, Tested, Whereabouts
from inventory.rules.counting import Outcome, Reason
from inventory.selectors.counts import differences_of
from inventory.services.counts import Settled, end_counting, open_count, record_sighting, sign_count
from inventory.services.months import keep_month
from inventory.services.samples import Plan, draw, examine, finish

COUNT_DAYS = -100  # in summer, when nearly everything is in storage
COUNTED, COUNTING = "QUARRY", "ALDER"
UNSEEN = (Reason.MISSING, Reason.SEEN_LATER, Reason.UNREADABLE)
ELSEWHERE = (Reason.MOVED_HERE, Reason.GOES_BACK)
NOTES = {
    Reason.MISSING: "Last used at the spring concert.",
    Reason.SEEN_LATER: "Was on the truck.",
    Reason.UNREADABLE: "Its tag is worn off; a new one is printed.",
    Reason.MISREAD: "A library label.",
}
UNKNOWN = "LIB-204417"  # on a case, of nobody's register
MONTHS = 12


def sign_summer_count(stage: Stage) -> Count | None:
    """Count a school and settle what differs, each with its reason. What is recorded as missing stays in anyway."""
    school, at = stage.schools[COUNTED], stage.at(COUNT_DAYS, 9)
    director, tech = stage.director_of(school), stage.people["tech"]
    rows = list(Instrument.objects.filter(school=school, whereabouts=Whereabouts.IN_STORE).order_by("pk"))
    if len(rows) <= len(UNSEEN) + len(ELSEWHERE):  # a small demo may have too few
        return None
    count = open_count(school=school, actor=director, at=at, nonce=nonce_of("counted"))
    rows.sort(key=lambda row: (row.readiness != Readiness.STAYS_IN, -row.pk))
    for number, row in enumerate(rows[len(UNSEEN) :]):
        room = _another_room(row) if number < len(ELSEWHERE) else row.room
        _see(count, row, room=room, actor=(director, tech)[number % 2], at=at + timedelta(minutes=1 + number))
    record_sighting(count=count, text=UNKNOWN, instrument=None, actor=tech, at=at + timedelta(hours=2))
    end_counting(count=count, actor=director, at=at + timedelta(hours=3))
    unseen, elsewhere = iter(UNSEEN), iter(ELSEWHERE)
    settled = {}
    for one in differences_of(count):
        if one.outcome is Outcome.UNKNOWN:
            reason = Reason.MISREAD
        elif one.outcome is Outcome.NOT_FOUND:
            stays_in = one.instrument is not None and one.instrument.readiness == Readiness.STAYS_IN
            reason = next(unseen, Reason.SEEN_LATER) if stays_in else Reason.SEEN_LATER
        else:
            reason = next(elsewhere, Reason.GOES_BACK)
        settled[one.key] = Settled(reason, NOTES.get(reason, ""))
    return sign_count(count=count, settled=settled, second=tech, actor=director, at=at + timedelta(hours=4))


def _another_room(row: Instrument) -> Room | None:
    rooms = Room.objects.filter(school=row.school_id).order_by("pk")
    return next((room for room in rooms if room.pk != row.room_id), None)


def _see(count: Count, row: Instrument, *, room: Room | None, actor: User, at: datetime) -> None:
    record_sighting(count=count, text=row.asset_number, instrument=row, room=room, actor=actor, at=at)


def begin_count(stage: Stage) -> Count | None:
    """Begin to count the rooms of another school: half of what is there has been seen."""
    school, at = stage.schools[COUNTING], stage.at(0, 11)
    director = stage.director_of(school)
    rows = list(
        Instrument.objects.filter(school=school, whereabouts=Whereabouts.IN_STORE).select_related("room").order_by("pk")
    )
    if not rows:
        return None
    count = open_count(school=school, actor=director, at=at, nonce=nonce_of("counting"))
    for number, row in enumerate(rows[::2]):
        room = _another_room(row) if number == 1 else row.room
        _see(count, row, room=room, actor=director, at=at + timedelta(minutes=1 + number))
    return count


def examine_samples(stage: Stage) -> list[Sample]:
    """Draw a sample at two schools: one is examined and closed, half of the other one is left."""
    return [sample for code, days in (("QUARRY", -1), ("TVHS", 0)) if (sample := _examine(stage, code, days=days))]


def _examine(stage: Stage, code: str, *, days: int) -> Sample | None:
    school, auditor, at = stage.schools[code], stage.people["auditor"], stage.at(days, 8, 30)
    if not Instrument.objects.filter(school=school).present().exists():
        return None
    plan = Plan(
        confidence=Decimal("0.90"), tolerable=Decimal("0.10"), expected=Decimal(0),
        tested=(Tested.PLACE, Tested.IDENTITY, Tested.TAG),
    )  # fmt: skip
    sample = draw(
        school=school, plan=plan, seed=f"20417{days + 3}", actor=auditor, at=at, nonce=nonce_of(f"sample {code}")
    )
    items = list(SampleItem.objects.filter(sample=sample).order_by("place"))
    is_whole = days < 0
    for number, item in enumerate(items if is_whole else items[: len(items) // 2]):
        found, note = SampleItem.Result.AS_RECORDED, ""
        if is_whole and number == len(items) // 2:
            found, note = SampleItem.Result.DEVIATES, "The serial on the bell ends in 8, the register says 3."
        examine(item=item, result=found, note=note, actor=auditor, at=at + timedelta(minutes=5 * (number + 1)))
    if is_whole:
        finish(sample=sample, actor=auditor, at=at + timedelta(hours=6))
    return sample


def keep_months_over(stage: Stage) -> int:
    """Keep what the fleet was at the end of each month of the last year."""
    first = add_months(stage.today.replace(day=1), -MONTHS)
    days = [day for day in months_to_keep(today=stage.today) if day >= first]
    return sum(keep_month(ends_on=day, sums=month_sums(day), actor=None, at=stage.at(0, 16)) for day in days)
