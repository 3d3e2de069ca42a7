"""Everything there is to know about one instrument, in few queries."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from core.models import Event
from desk.selectors.history import latest_events, references_in_list
from inventory.models import Accessory, Acquired, Disposal, Donation, Finding, Instrument, Photo, PlayTest, Whereabouts
from inventory.pages.changes import References
from inventory.rules.standing import Standing
from inventory.selectors.columns import facts_of
from inventory.selectors.inspecting import remarks_unread
from inventory.selectors.leaving import disposal_of
from inventory.selectors.standing import standing_of
from inventory.selectors.state import may_go_out, reasons_today
from loans.models import Loan, SharedUse
from loans.selectors.sharing import uses_of
from repairs.models import Job, ShopOrder, TakenPart, WorthDecision
from repairs.rules.plan import Plan
from repairs.selectors.decisions import refusal_to_tell
from repairs.selectors.donors import parts_moved
from repairs.selectors.planning import plan_for_instrument
from repairs.selectors.shops import failed_order


@dataclass(frozen=True, slots=True)
class InstrumentRecord:
    instrument: Instrument
    may_go_out: bool  # today, with limits or without
    reasons: list[dict[str, Any]]  # text, the code of what clears it, whether it keeps the instrument in
    standing: Standing
    notes: dict[str, str]  # finding key -> what somebody noted
    plan: Plan
    job: Job | None
    order_pk: int | None  # the open order, while it is at a shop
    loan: Loan | None
    accessories: list[Accessory]
    photos: list[Photo]
    play_tests: list[PlayTest]  # the latest five, newest first
    parts: list[TakenPart]  # that went onto it or came off it
    events: list[Event]
    refs: References  # what the events speak of
    facts: list[tuple[str, str]]
    remarks: list[str]  # what an imported list said of it, until somebody inspects it
    lock: str  # the combination, where it is kept; "" where there is none, or it is out
    owes_gift_record: bool  # a gift that nobody has recorded yet
    failed_order: ShopOrder | None  # whose work is back and failed its latest play test
    shared: list[SharedUse]  # who uses it in class, where it stays in the room
    refused: WorthDecision | None  # a decision that was not approved and stands so
    disposal: Disposal | None  # how it left the fleet, while it is gone

    @property
    def is_lent_from_here(self) -> bool:
        """Whether it is out, lent by the school it is at: who has it is that school's alone to know."""
        return self.loan is not None and self.loan.school_id == self.instrument.school_id


def instrument_record(instrument: Instrument, *, user: Any, today: date) -> InstrumentRecord:
    """Read the record. The caller has checked that the user may see the instrument."""
    rows = list(Finding.objects.filter(instrument=instrument).standing())
    standing = standing_of(instrument, findings=[row.fact for row in rows])
    job = open_job_of(instrument)
    loan = order = None
    if instrument.whereabouts in (
        Whereabouts.WITH_STUDENT,
        Whereabouts.NOT_FOUND,
    ):  # lost by a student, it is still lent
        loan = Loan.objects.open().filter(instrument=instrument).select_related("student").first()
    elif instrument.whereabouts == Whereabouts.AT_SHOP:
        order = ShopOrder.objects.open().filter(instrument=instrument).first()
    events = latest_events(instrument)
    play_tests = list(instrument.play_tests.select_related("actor")[:5])
    return InstrumentRecord(
        instrument=instrument,
        may_go_out=may_go_out(instrument, today=today),
        reasons=reasons_today(instrument, today=today),
        standing=standing,
        notes={str(row.pk): row.note for row in rows},
        plan=plan_for_instrument(instrument, standing=standing, job=job),
        job=job,
        order_pk=order.pk if order else None,
        loan=loan,
        accessories=list(instrument.accessories.all()),
        photos=list(instrument.photos.all()[:12]),
        play_tests=play_tests,
        failed_order=failed_order(instrument, next(iter(play_tests), None)),
        parts=parts_moved(instrument),
        events=events,
        refs=references_in_list(events, user=user, school=instrument.school_id),
        facts=facts_of(instrument, user=user),
        remarks=remarks_unread(instrument),
        lock=combination_of(instrument),
        owes_gift_record=instrument.acquired_by == Acquired.GIFT
        and not Donation.objects.filter(instrument=instrument).exists(),
        shared=uses_of(instrument),
        refused=refusal_to_tell(instrument),
        disposal=disposal_of(instrument) if instrument.whereabouts == Whereabouts.GONE else None,
    )


def combination_of(instrument: Instrument) -> str:
    """Return what opens its locker; "" while it is not there."""
    lock = getattr(instrument, "lock", None) if instrument.whereabouts == Whereabouts.IN_STORE else None
    return lock.combination if lock else ""


def open_job_of(instrument: Instrument) -> Job | None:
    """Return the open job of an instrument, with its bench, or None. One query."""
    job = Job.objects.open().filter(instrument=instrument).select_related("bench").first()
    if job is not None:
        job.instrument = instrument  # the very same row, already read
    return job
