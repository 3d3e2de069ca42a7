"""New instruments, their numbers, accessories and tags."""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext

from core.acts import service
from core.day_bounds import ACQUIRED
from core.models import User
from core.photos import CleanPhoto
from core.revisions import kept_of
from core.traces import NOW
from inventory.catalog.load import catalog
from inventory.catalog.load.language import stored_language
from inventory.columns import COLUMNS
from inventory.exceptions import NumberTakenError, RefusedError
from inventory.models import Accessory, Custody, District, Donation, Instrument, Lock, Room, School, Tag, Whereabouts
from inventory.rules.facts import Owed, owed_on_arrival
from inventory.selectors.leaving import serial_taken
from inventory.services.care import keep_photo
from inventory.services.checking import check_row, save_columns
from inventory.services.event_log import log_event
from inventory.services.following import instruments_changed
from inventory.services.people import add_room
from inventory.services.state import hold_new, lock_instrument, refresh_state

# No 0/O, 1/I/L or U, so that it can be read aloud and typed from a worn tag. 16 of 30 = 78 bits.
TOKEN_LETTERS = "23456789ABCDEFGHJKMNPQRSTVWXYZ"  # noqa: S105  # an alphabet
TOKEN_LENGTH = 16


def new_token() -> str:
    return "".join(secrets.choice(TOKEN_LETTERS) for _ in range(TOKEN_LENGTH))


@service
def next_asset_number() -> str:
    """Take the district's next free number; numbers are never reused."""
    while True:
        District.objects.filter(pk=1).update(next_asset_number=F("next_asset_number") + 1)
        district = District.objects.get(pk=1)
        number = district.asset_number(district.next_asset_number - 1)
        if not Instrument.objects.filter(asset_number=number).exists():
            return number


def options_of(*, kind_code: str, given: Mapping[str, str]) -> dict[str, str]:
    """The kind's options with the given choices; RefusedError names a choice that the kind does not have."""
    result = {}
    for option in catalog().kind(kind_code).options:
        choice = given.get(option.code) or option.default
        if choice not in option.choices:
            raise RefusedError(
                gettext("%(option)s cannot be %(choice)s; choose one of %(choices)s.")
                % {"option": option.name, "choice": choice, "choices": ", ".join(option.choices)}
            )
        result[option.code] = choice
    return result


@service(once="once")
def register_instrument(
    *,
    kind_code: str,
    school: School,
    actor: User | None,
    at: datetime,
    asset_number: str = "",
    room: Room | None = None,
    new_room: str = "",
    options: Mapping[str, str] | None = None,
    issue_tag_too: bool = True,
    token: str = "",
    photo: CleanPhoto | None = None,
    once: str = "",
    **fields: Any,
) -> Instrument:
    """Register an instrument, with its expected accessories, a tag and its first photo.

    ``fields`` are further columns of Instrument (level, maker, model, serial, year_made, acquired_by, …).
    ``new_room`` names a room of the school, added if it is not there yet, and goes before ``room``.
    ``once`` is the posted form's key. Raises NumberTakenError when the asset number or the maker's serial is taken.
    """
    if kind_code not in catalog().kinds:
        raise RefusedError(gettext("There is no kind called %(kind)s.") % {"kind": kind_code})
    if new_room.strip():
        room = add_room(school=school, name=new_room, actor=actor, at=at)
    instrument = Instrument(
        asset_number=asset_number.strip().upper() or next_asset_number(),
        kind_code=kind_code,
        school=school,
        room=room,
        options=options_of(kind_code=kind_code, given=options or {}),
        registered_at=at,
        **fields,
    )
    owed = owed_on_arrival(acquired_by=instrument.acquired_by, touches_mouth=bool(instrument.kind.between_players()))
    instrument.is_hygiene_due, instrument.is_full_cleaning_due = Owed.HYGIENE in owed, Owed.FULL in owed
    _check_days(at=at, **fields)
    _check_instrument(instrument)
    instrument.save(force_insert=True)
    hold_new(instrument)
    instruments_changed([instrument.pk])
    Accessory.objects.bulk_create(accessories_for(instrument))
    Custody.objects.create(instrument=instrument, whereabouts=Whereabouts.IN_STORE, since=at, actor=actor)
    log_event(instrument=instrument, act="registered", **kept_of(Instrument).beginning(instrument))
    if issue_tag_too:
        issue_tag(instrument=instrument, actor=actor, at=at, token=token)
    if photo and actor:
        keep_photo(instrument=instrument, photo=photo, actor=actor, at=at)
    refresh_state(instrument=instrument, actor=actor, at=at)
    return instrument


def _check_days(*, at: datetime, acquired_on: date | None = None, year_made: int | None = None, **_fields: Any) -> None:
    """Refuse a day or a year that is not believed; what an instrument has had for long is not asked again."""
    today = timezone.localdate(at)
    ACQUIRED.check(acquired_on, today=today, label=gettext("Acquired on"))
    if year_made is not None and year_made > today.year + 1:  # next year's models are sold this year
        raise RefusedError(gettext("Year made: %(year)d is in the future.") % {"year": year_made})


def _check_instrument(instrument: Instrument) -> None:
    """Refuse in words an invalid value, another school's room, and a number or serial that another instrument has.

    Of two at the same moment one fails on the unique key, and is refused here when it is tried again.
    """
    room, school = instrument.room, instrument.school
    if room is not None and room.school_id != school.pk:
        raise RefusedError(gettext("%(room)s is not a room of %(school)s.") % {"room": room, "school": school})
    check_row(instrument, names_columns=True, validate_unique=False, validate_constraints=False)
    others = Instrument.objects.exclude(pk=instrument.pk)
    if others.filter(asset_number=instrument.asset_number).exists():
        raise NumberTakenError(gettext("Number %(number)s is taken.") % {"number": instrument.asset_number})
    if not instrument.is_entered_in_error and serial_taken(instrument):
        raise NumberTakenError(
            gettext("%(maker)s %(serial)s is already registered.")
            % {"maker": instrument.maker or gettext("This maker"), "serial": instrument.serial}
        )
    second = instrument.second_number
    if second and others.with_second_number(second).exists():
        raise NumberTakenError(gettext("Second number %(number)s is on another instrument.") % {"number": second})


def accessories_for(instrument: Instrument) -> list[Accessory]:
    """The accessories that the catalog lists for it, unsaved; their names are stored in one language."""
    with stored_language():
        listed = instrument.kind.accessories
    return [
        Accessory(
            instrument=instrument,
            code=spec.code,
            name=spec.name,
            expected=spec.count,
            is_essential=spec.essential,
            position=position,
        )
        for position, spec in enumerate(listed)
    ]


def stays_at_its_school(instrument: Instrument) -> str:
    """Say why an instrument that is out stays at its school: the loan is its own school's until it is back."""
    words = gettext("%(number)s is with a student of %(school)s. Take it back first; then it can go to another school.")
    return words % {"number": instrument.asset_number, "school": instrument.school}


CHANGEABLE = frozenset(column.name for column in COLUMNS if column.form in {"first", "more"})


@service
def change_instrument(
    *, instrument: Instrument, actor: User, at: datetime, new_room: str = "", **fields: Any
) -> Instrument:
    """Correct an instrument's data; the event records which columns changed, from what to what.

    Of what somebody typed, the event has the hashes, and a revision the words. A form that changes nothing leaves no
    event. One that is with a student stays at its school. ``new_room`` is as in register_instrument().
    """
    unknown = set(fields) - CHANGEABLE
    if unknown:
        raise TypeError(f"not changeable: {', '.join(sorted(unknown))}")
    row = lock_instrument(instrument)
    if fields.get("school", row.school) != row.school and row.whereabouts == Whereabouts.WITH_STUDENT:
        raise RefusedError(stays_at_its_school(row))
    if new_room.strip():
        fields["room"] = add_room(school=fields.get("school") or row.school, name=new_room, actor=actor, at=at)
    if row.kind_code not in catalog().kinds:
        fields.pop("options", None)  # which options there are went with the kind: what is stored stays
    if "options" in fields:
        fields["options"] = options_of(kind_code=row.kind_code, given=fields["options"])
    _check_days(at=at, **{name: value for name, value in fields.items() if getattr(row, name) != value})
    before = {name: getattr(row, name) for name in fields}
    changed = save_columns(row, check=_check_instrument, **fields)
    if changed:
        log_event(instrument=row, act="corrected", **kept_of(Instrument).change(row, before, changed))
    if "options" in changed:
        instruments_changed([row.pk])
    if {"school", "room", "place"} & {*changed} and Lock.objects.filter(instrument=row).exclude(
        combination=""
    ).exists():
        note_lock(instrument=row, combination="", actor=actor, at=at)  # the lock stays behind
    if "school" in changed:
        School.objects.filter(pk=before["school"].pk).update(instrument_left_at=at)
    refresh_state(instrument=row, actor=actor, at=at)
    return row


@service(once="nonce")
def record_donation(
    *,
    instrument: Instrument,
    donor_name: str,
    received_on: date,
    actor: User,
    at: datetime,
    donor_contact: str = "",
    thanked_on: date | None = None,
    tax_form_signed_on: date | None = None,
    history: str = "",
    nonce: UUID | None = None,
) -> Donation:
    """Record who gave it, or correct that, apart from the instrument's page. The event holds no name."""
    days = {
        gettext("Received on"): received_on,
        gettext("Thanked on"): thanked_on,
        gettext("Tax form signed on"): tax_form_signed_on,
    }
    for label, day in days.items():
        ACQUIRED.check(day, today=timezone.localdate(at), label=label)
    columns: dict[str, Any] = {
        "donor_name": donor_name,
        "donor_contact": donor_contact,
        "received_on": received_on,
        "thanked_on": thanked_on,
        "tax_form_signed_on": tax_form_signed_on,
        "history": history,
    }
    instrument, kept = lock_instrument(instrument), kept_of(Donation)
    donation = Donation.objects.filter(instrument=instrument).first()
    if donation is None:
        donation = Donation.objects.create(instrument=instrument, **columns)
        log_event(instrument=instrument, act="gift_recorded", subject=donation, **kept.beginning(donation))
        return donation
    before = {name: getattr(donation, name) for name in columns}
    if changed := save_columns(donation, **columns):
        change = kept.change(donation, before, changed)
        log_event(instrument=instrument, act="gift_corrected", subject=donation, **change)
    return donation


@service
def note_lock(*, instrument: Instrument, combination: str, actor: User, at: datetime) -> Lock:
    """Note the combination of the lock where it is kept; "" takes it away. The log says that, never what it is."""
    row = lock_instrument(instrument)
    lock, is_new = Lock.objects.get_or_create(instrument=row, defaults={"combination": combination})
    if is_new or save_columns(lock, combination=combination):
        log_event(instrument=row, act="lock_noted", subject=lock)
    return lock


@service(once="nonce")
def issue_tag(
    *,
    instrument: Instrument,
    actor: User | None,
    at: datetime,
    accessory: Accessory | None = None,
    because: str = "",
    token: str = "",
    nonce: UUID | None = None,
) -> Tag:
    """Give it a new tag; a live one it had is revoked in the same act. ``token`` is for a demo that repeats."""
    lock_instrument(instrument)
    if accessory is not None and accessory.instrument_id != instrument.pk:
        raise RefusedError(
            gettext("%(accessory)s does not belong to %(number)s.")
            % {"accessory": accessory, "number": instrument.asset_number}
        )
    old = Tag.objects.live().filter(instrument=instrument, accessory=accessory)
    replaced = list(old)
    old.update(revoked_at=at, revoked_because=because or "replaced")
    for one in replaced:
        log_event(instrument=instrument, act="tag_revoked", subject=one, after={"tag": one.pk})
    tag = Tag.objects.create(token=token or new_token(), instrument=instrument, accessory=accessory, issued_at=at)
    log_issued(tag, replaced=replaced)
    return tag


def log_issued(tag: Tag, *, replaced: Sequence[Tag] = ()) -> None:
    log_event(
        instrument=tag.instrument,
        act="tag_issued",
        subject=tag,
        before={"tags": [one.pk for one in replaced]},
        after={"tag": tag.pk, "accessory": tag.accessory.code if tag.accessory else "", NOW: {"revoked_at": None}},
    )


@service
def revoke_tag(*, tag: Tag, actor: User, at: datetime, because: str) -> None:
    """Revoke a tag; anyone who scans it sees that, but not what it was on."""
    revoked = Tag.objects.live().filter(pk=tag.pk).update(revoked_at=at, revoked_because=because)
    if revoked:
        log_event(instrument=tag.instrument, act="tag_revoked", subject=tag, after={"tag": tag.pk})
