"""Play tests, cleaning between players, problem reports, photos."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.conf import settings
from django.core.files.base import ContentFile
from django.db.models.fields.files import FieldFile
from django.utils.translation import gettext

from core.acts import lock_name, service
from core.events import already
from core.models import User
from core.networks import network_of
from core.photos import CleanPhoto
from core.traces import as_left
from inventory.exceptions import RefusedError
from inventory.models import Inspection, Instrument, Photo, PlayTest, ProblemReport
from inventory.rules.facts import Owed
from inventory.rules.playing.results import contradiction
from inventory.services.event_log import log_event
from inventory.services.following import play_tested
from inventory.services.state import lock_instrument, lock_instruments, refresh_state, write

NOTICES_PER_INSTRUMENT = 5  # reports from outside that wait at one time: more would tell nobody anything new


@service(once="nonce")
def record_play_test(
    *,
    instrument: Instrument,
    result: str,
    actor: User,
    at: datetime,
    nonce: UUID | None = None,
    limits_text: str = "",
    failed_notes: Sequence[str] = (),
    weak_notes: Sequence[str] = (),
    tried_notes: Sequence[str] = (),
    measures: Sequence[dict[str, Any]] = (),
    tester_plays: str = "",
    played_with: str = "",
    is_second_opinion: bool = False,
    room_celsius: Decimal | None = None,
    tuning_cents: Decimal | None = None,
    is_tuned_first: bool = False,
    slide_mm: Decimal | None = None,
    note: str = "",
) -> PlayTest:
    """Record a play test; verdict and readiness follow. Notes and words must bear out the result.

    Without ``tried_notes``, every note of the range counts as played.
    """
    if result not in PlayTest.Result.values:
        raise RefusedError(gettext("Choose pass, limits or fail."))
    if wrong := contradiction(result, failed=failed_notes, weak=weak_notes, limits_text=limits_text, note=note):
        raise RefusedError(wrong[1])
    row = lock_instrument(instrument)
    test = PlayTest.objects.create(
        instrument=row,
        played_at=at,
        actor=actor,
        tester_plays=tester_plays,
        played_with=played_with,
        is_second_opinion=is_second_opinion,
        result=result,
        limits_text=limits_text.strip() if result == PlayTest.Result.LIMITS else "",
        failed_notes=list(failed_notes),
        weak_notes=list(weak_notes),
        tried_notes=list(tried_notes),
        measures=list(measures),
        room_celsius=room_celsius,
        tuning_cents=tuning_cents,
        is_tuned_first=is_tuned_first,
        slide_mm=slide_mm,
        note=note,
    )
    log_event(
        instrument=row,
        act="play_tested",
        subject=test,
        after={"result": result, "failed_notes": list(failed_notes)},
    )
    play_tested(play_test=test, actor=actor, at=at)
    refresh_state(instrument=row, actor=actor, at=at)
    return test


@service
def require_hygiene(*, instrument: Instrument, actor: User, at: datetime) -> None:
    """A player had it in the mouth: it stays in until cleaned. Kinds without such parts are not affected."""
    row = lock_instrument(instrument)
    if row.kind.between_players() and not row.is_hygiene_due:
        write(row, is_hygiene_due=True)
        refresh_state(instrument=row, actor=actor, at=at)


@service
def require_return_inspection(*, instrument: Instrument, actor: User, at: datetime) -> None:
    """It came back and nobody has looked at it: it stays in until a return inspection is finished."""
    row = lock_instrument(instrument)
    write(row, is_return_inspection_due=True)
    refresh_state(instrument=row, actor=actor, at=at)


@service
def owe_nothing_back(*, instrument: Instrument, actor: User, at: datetime) -> None:
    """It did not come back after all: what its return owed, inspection and cleaning, is not owed yet."""
    row = lock_instrument(instrument)
    write(row, is_return_inspection_due=False, is_hygiene_due=False)
    refresh_state(instrument=row, actor=actor, at=at)


@service(once="nonce")
def record_cleaning(
    *,
    instrument: Instrument,
    done: Collection[Owed],
    actor: User,
    at: datetime,
    product: str = "",
    wet_minutes: int = 0,
    nonce: UUID | None = None,
) -> None:
    """Record which cleaning was done, with what, and how long it stayed wet.

    What was not owed is kept only where somebody says what it was cleaned with.
    """
    row = lock_instrument(instrument)
    owed = row.owed.intersection(done)
    if owed or product:
        columns = {"is_hygiene_due": Owed.HYGIENE, "is_full_cleaning_due": Owed.FULL}
        write(row, **{name: False for name, one in columns.items() if one in owed})
        after = {"done": sorted(done if product else owed), "product": product, "wet_minutes": wet_minutes}
        log_event(instrument=row, act="cleaned", after={name: value for name, value in after.items() if value})
        refresh_state(instrument=row, actor=actor, at=at)


@service(once="nonce")
def record_cleanings(
    *,
    instruments: Sequence[Instrument],
    done: Collection[Owed],
    actor: User,
    at: datetime,
    product: str = "",
    wet_minutes: int = 0,
    nonce: UUID | None = None,
) -> None:
    """Record the same cleaning of many, as ``record_cleaning`` does of one: all of them or none."""
    for row in lock_instruments(*instruments):
        record_cleaning(instrument=row, done=done, product=product, wet_minutes=wet_minutes, actor=actor, at=at)


def source_of(address: str) -> str:
    """A salted hash of a sender's network: enough to count by, not enough to find somebody."""
    return hashlib.sha256(f"{settings.SECRET_KEY}|report|{network_of(address)}".encode()).hexdigest()


@service(once="nonce")
def report_problem(
    *,
    instrument: Instrument,
    text: str,
    at: datetime,
    actor: User | None = None,
    source: str = "",
    nonce: UUID | None = None,
) -> ProblemReport:
    """Take a report of trouble from whoever scans the tag. One by staff (``actor``) is confirmed at once.

    Raises RefusedError when one network has reported more than the hourly limit, or when enough wait for this
    instrument.
    """
    words = text.strip()[:2000]
    if not words:
        raise RefusedError(gettext("Say in a few words what is wrong."))
    row = lock_instrument(instrument)
    if actor is None:
        _refuse_flood(row, source=source, at=at)
    report = ProblemReport.objects.create(
        instrument=row,
        said_at=at,
        text=words,
        source=source,
        confirmed_at=at if actor else None,
        confirmed_by=actor,
    )
    log_event(instrument=row, act="problem_reported", subject=report)
    if actor is not None:
        refresh_state(instrument=row, actor=actor, at=at)
    return report


def _refuse_flood(instrument: Instrument, *, source: str, at: datetime) -> None:
    if ProblemReport.objects.unconfirmed().filter(instrument=instrument).count() >= NOTICES_PER_INSTRUMENT:
        raise RefusedError(gettext("Several reports about it are waiting already. The band director will read them."))
    if source:
        lock_name(f"report {source}")  # counted and written by one at a time
        recent = ProblemReport.objects.filter(source=source, said_at__gt=at - timedelta(hours=1)).count()
        if recent >= settings.REPORTS_PER_HOUR:
            raise RefusedError(gettext("That was a lot of reports in a short time. Please try again in an hour."))


@service
def confirm_report(*, report: ProblemReport, actor: User, at: datetime) -> None:
    """Let a report keep its instrument in until it is answered; confirmed already, it changes nothing."""
    row = lock_instrument(report.instrument)
    if ProblemReport.objects.unconfirmed().filter(pk=report.pk).update(confirmed_at=at, confirmed_by=actor):
        log_event(instrument=row, act="report_confirmed", subject=report)
        refresh_state(instrument=row, actor=actor, at=at)
    elif ProblemReport.objects.exclude(closed_at=None).filter(pk=report.pk).exists():
        words = gettext("This report has already been answered.")
        raise RefusedError(already(words, subject=report, acts=["report_answered"]))


@service
def answer_report(*, report: ProblemReport, actor: User, at: datetime, answer: str) -> None:
    """Close a report with a note on what was found; the same answer again changes nothing, another one is refused."""
    row = lock_instrument(report.instrument)
    closed = ProblemReport.objects.filter(pk=report.pk, closed_at=None).update(
        closed_at=at, closed_by=actor, answer=answer[:400]
    )
    if closed:
        log_event(instrument=row, act="report_answered", subject=report)
        refresh_state(instrument=row, actor=actor, at=at)
    elif not ProblemReport.objects.filter(pk=report.pk, closed_by=actor, answer=answer[:400]).exists():
        words = gettext("This report has already been answered; yours was not kept.")
        raise RefusedError(already(words, subject=report, acts=["report_answered"]))


@service(once="nonce")
def keep_photo(
    *,
    instrument: Instrument,
    photo: CleanPhoto,
    actor: User,
    at: datetime,
    inspection: Inspection | None = None,
    part: str = "",
    caption: str = "",
    nonce: UUID | None = None,
) -> Photo:
    """Store a cleaned photo with the instrument; the same picture again is the same row."""
    lock_instrument(instrument)
    again = Photo.objects.filter(instrument=instrument, sha256=photo.sha256, part=part, inspection=inspection).first()
    if again:
        return again
    row = Photo(
        instrument=instrument,
        inspection=inspection,
        part=part,
        sha256=photo.sha256,
        width=photo.width,
        height=photo.height,
        caption=caption,
        taken_at=at,
        actor=actor,
    )
    _store(row.image, "photo.jpg", photo.jpeg)
    _store(row.small, "small.jpg", photo.thumbnail)
    row.small_sha256 = _hash_of(row.small)  # an older version may have made the one that is there, and otherwise
    row.save()
    after = {"part": part, "sha256": photo.sha256, **as_left(row, "small_sha256")}
    log_event(instrument=instrument, act="photo_kept", subject=row, after=after)
    return row


def _store(field: FieldFile, filename: str, content: bytes) -> None:
    """Keep a picture under the name its content gives it; one that is there already is used again."""
    name = field.field.generate_filename(field.instance, filename)
    if field.storage.exists(name):
        field.name = name
    else:
        field.save(filename, ContentFile(content), save=False)


def _hash_of(field: FieldFile) -> str:
    with field.open("rb") as stored:
        return hashlib.sha256(stored.read()).hexdigest()
