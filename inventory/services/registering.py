"""New instruments, their numbers, accessories and tags."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F

from core.models import User
from inventory.catalog.load import catalog
from inventory.columns import BY_NAME, COLUMNS
from inventory.exceptions import NumberTakenError, RefusedError
from inventory.models import Accessory, Custody, District, Donation, Instrument, Room, School, Tag, Whereabouts
from inventory.services.checking import check_row
from inventory.services.event_log import log_event
from inventory.services.people import add_room
from inventory.services.state import refresh_state

# No 0/O, 1/I/L, no U: read aloud and typed from a worn tag without a mistake. 16 of 30 = 78 bits.
TOKEN_LETTERS = "23456789ABCDEFGHJKMNPQRSTVWXYZ"  # noqa: S105  # an alphabet
TOKEN_LENGTH = 16


def new_token() -> str:
    return "".join(secrets.choice(TOKEN_LETTERS) for _ in range(TOKEN_LENGTH))


@transaction.atomic
def next_asset_number() -> str:
    """Take the district's next free number; a number once taken never comes back."""
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
            raise RefusedError(f"{option.name} cannot be {choice}; it is one of {', '.join(option.choices)}.")
        result[option.code] = choice
    return result


@transaction.atomic
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
    once: str = "",
    **fields: Any,
) -> Instrument:
    """Put an instrument on the list, with its expected accessories and a tag.

    ``fields`` are further columns of Instrument (level, maker, model, serial, year_made, acquired_by, …).
    ``new_room`` names a room of the school, added if it is not there yet, and goes before ``room``.
    ``once`` names the form it was typed in: the same form sent again gives the instrument it gave before.
    Raises NumberTakenError when the asset number or the maker's serial is taken.
    """
    if again := _registered_by(once):
        return again
    if kind_code not in catalog().kinds:
        raise RefusedError(f"There is no kind called {kind_code}.")
    if new_room.strip():
        room = add_room(school=school, name=new_room, actor=actor, at=at)
    if room is not None and room.school_id != school.pk:
        raise RefusedError(f"{room} is not a room of {school}.")
    number = asset_number.strip().upper() or next_asset_number()
    if again := _registered_by(once):  # taking a number waited for whoever took one at the same moment
        return again
    instrument = Instrument(
        asset_number=number,
        kind_code=kind_code,
        school=school,
        room=room,
        options=options_of(kind_code=kind_code, given=options or {}),
        registered_at=at,
        fingerprint=once,
        **fields,
    )
    written = _write_instrument(instrument)
    if written is not instrument:
        return written
    _put_in_store(instrument, actor=actor, at=at)
    if issue_tag_too:
        issue_tag(instrument=instrument, actor=actor, at=at, token=token)
    refresh_state(instrument=instrument, actor=actor, at=at)
    return Instrument.objects.get(pk=instrument.pk)


def _registered_by(form: str) -> Instrument | None:
    """What the form gave when it was sent before."""
    return Instrument.objects.filter(fingerprint=form).first() if form else None


def _write_instrument(instrument: Instrument) -> Instrument:
    """Create the row, or return the one that the same form has just given; the constraints decide who was first."""
    check_row(instrument, names_columns=True, validate_unique=False, validate_constraints=False)
    try:
        with transaction.atomic():
            instrument.save(force_insert=True)
    except IntegrityError:
        if again := _registered_by(instrument.fingerprint):
            return again
        if Instrument.objects.filter(asset_number=instrument.asset_number).exists():
            raise NumberTakenError(f"Number {instrument.asset_number} is taken.") from None
        raise NumberTakenError(
            f"{instrument.maker or 'This maker'} {instrument.serial} is already registered."
        ) from None
    return instrument


def _put_in_store(instrument: Instrument, *, actor: User | None, at: datetime) -> None:
    """What a row just written brings along: its accessories, its first place, and the log's word of it."""
    Accessory.objects.bulk_create(accessories_for(instrument))
    Custody.objects.create(instrument=instrument, whereabouts=Whereabouts.IN_STORE, since=at, actor=actor)
    log_event(
        instrument=instrument,
        act="registered",
        actor=actor,
        at=at,
        after={
            "asset_number": instrument.asset_number,
            "kind": instrument.kind_code,
            "acquired_by": instrument.acquired_by,
        },
    )


def accessories_for(instrument: Instrument) -> list[Accessory]:
    """What the catalog says goes with it, unsaved."""
    return [
        Accessory(
            instrument=instrument,
            code=spec.code,
            name=spec.name,
            expected=spec.count,
            is_essential=spec.essential,
            position=position,
        )
        for position, spec in enumerate(instrument.kind.accessories)
    ]


CHANGEABLE = frozenset(column.name for column in COLUMNS if column.form in {"first", "more"})


@transaction.atomic
def change_instrument(
    *, instrument: Instrument, actor: User, at: datetime, new_room: str = "", **fields: Any
) -> Instrument:
    """Correct what the list says of an instrument; the event tells which columns changed, from what to what.

    Of columns with free words the event tells only that they changed.
    ``new_room`` is as in register_instrument().
    """
    unknown = set(fields) - CHANGEABLE
    if unknown:
        raise TypeError(f"not changeable: {', '.join(sorted(unknown))}")
    fresh = Instrument.objects.get(pk=instrument.pk)
    if new_room.strip():
        school = fields.get("school") or fresh.school
        fields["room"] = add_room(school=school, name=new_room, actor=actor, at=at)
    before = {name: _as_json(getattr(fresh, name)) for name in fields}
    for name, value in fields.items():
        setattr(fresh, name, value)
    if "options" in fields:
        fresh.options = options_of(kind_code=fresh.kind_code, given=fields["options"])
    if fresh.room is not None and fresh.room.school_id != fresh.school_id:
        raise RefusedError(f"{fresh.room} is not a room of {fresh.school}.")
    check_row(fresh, names_columns=True, validate_unique=False, validate_constraints=False)
    try:
        with transaction.atomic():
            fresh.save()
    except IntegrityError:
        raise NumberTakenError(f"{fresh.maker or 'This maker'} {fresh.serial} is already registered.") from None
    after = {name: _as_json(getattr(fresh, name)) for name in fields}
    changed = [name for name in fields if before[name] != after[name]]
    log_event(
        instrument=fresh,
        act="corrected",
        actor=actor,
        at=at,
        before={name: before[name] for name in changed if BY_NAME[name].is_logged},
        after={name: after[name] if BY_NAME[name].is_logged else "in the row" for name in changed},
    )
    refresh_state(instrument=fresh, actor=actor, at=at)
    return Instrument.objects.get(pk=fresh.pk)


def _as_json(value: Any) -> Any:
    if isinstance(value, (School, Room)):
        return value.pk
    if isinstance(value, Decimal | date):
        return str(value)
    return value


@transaction.atomic
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
) -> Donation:
    """Keep who gave it, apart from the instrument's page. The event holds no name."""
    donation, _ = Donation.objects.update_or_create(
        instrument=instrument,
        defaults={
            "donor_name": donor_name,
            "donor_contact": donor_contact,
            "received_on": received_on,
            "thanked_on": thanked_on,
            "tax_form_signed_on": tax_form_signed_on,
            "history": history,
        },
    )
    log_event(
        instrument=instrument,
        act="gift_recorded",
        subject=donation,
        actor=actor,
        at=at,
        after={"received_on": received_on, "tax_form_signed_on": tax_form_signed_on},
    )
    return donation


@transaction.atomic
def issue_tag(
    *,
    instrument: Instrument,
    actor: User | None,
    at: datetime,
    accessory: Accessory | None = None,
    because: str = "",
    token: str = "",
) -> Tag:
    """Give it a new tag; a live one it had is revoked in the same act. ``token`` is for a demo that must repeat."""
    if accessory is not None and accessory.instrument_id != instrument.pk:
        raise RefusedError(f"{accessory.name} does not go with {instrument.asset_number}.")
    old = Tag.objects.live().filter(instrument=instrument, accessory=accessory)
    replaced = list(old.values_list("pk", flat=True))
    old.update(revoked_at=at, revoked_because=because or "replaced")
    tag = Tag.objects.create(token=token or new_token(), instrument=instrument, accessory=accessory, issued_at=at)
    log_event(
        instrument=instrument,
        act="tag_issued",
        subject=tag,
        actor=actor,
        at=at,
        before={"tags": replaced},
        after={"tag": tag.pk, "accessory": accessory.code if accessory else ""},
    )
    return tag


@transaction.atomic
def revoke_tag(*, tag: Tag, actor: User, at: datetime, because: str) -> None:
    """Make a tag lead nowhere; whoever scans it is told so, not what it was on."""
    revoked = Tag.objects.live().filter(pk=tag.pk).update(revoked_at=at, revoked_because=because)
    if revoked:
        log_event(
            instrument=tag.instrument,
            act="tag_revoked",
            subject=tag,
            actor=actor,
            at=at,
            after={"tag": tag.pk},
        )
