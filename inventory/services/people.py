"""The district's set-up: schools, rooms, people and what they may do."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.contrib.auth.hashers import make_password
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction

from core.events import record_event
from core.models import User
from inventory.exceptions import NumberTakenError, RefusedError
from inventory.models import District, Role, Room, School, StaffRole
from inventory.services.checking import check_row

SPOKEN = {"return_words", "contact_phone"}  # may name a person: the row has them, the log does not


def _checked(row: models.Model) -> None:
    check_row(row, validate_unique=False, validate_constraints=False)  # answered where the row is saved


@transaction.atomic
def set_up_district(*, actor: User | None, at: datetime, **fields: Any) -> District:
    """Name the district, or change what it is called and how it numbers instruments.

    The next number only ever goes up, so that no number comes back.
    """
    district = District.objects.filter(pk=1).first() or District(pk=1)
    before = {name: getattr(district, name) for name in fields if name not in SPOKEN}
    if "next_asset_number" in fields and fields["next_asset_number"] < district.next_asset_number:
        raise RefusedError(
            f"The next number cannot go back below {district.next_asset_number}: numbers are never reused."
        )
    for name, value in fields.items():
        setattr(district, name, value)
    _checked(district)
    district.save()
    after = {name: getattr(district, name) for name in before}
    record_event(actor=actor, act="district_changed", subject=district, at=at, before=before, after=after)
    return district


@transaction.atomic
def add_school(*, code: str, name: str, actor: User | None, at: datetime, phone: str = "") -> School:
    """Add a school; its code is taken once."""
    school = School(code=code.strip().upper(), name=name.strip(), phone=phone.strip())
    _checked(school)
    try:
        with transaction.atomic():
            school.save()
    except IntegrityError:
        raise NumberTakenError(f"There is a school with the code {school.code} already.") from None
    record_event(actor=actor, act="school_added", subject=school, at=at, tenant=school.pk, after={"code": school.code})
    return school


@transaction.atomic
def change_school(*, school: School, name: str, phone: str, actor: User, at: datetime) -> School:
    """Correct a school's name or phone. Its code stays: it is printed and scripted."""
    fresh = School.objects.get(pk=school.pk)
    before = {"name": fresh.name}
    fresh.name, fresh.phone = name.strip(), phone.strip()
    _checked(fresh)
    fresh.save()
    after = {"name": fresh.name}
    record_event(actor=actor, act="school_changed", subject=fresh, at=at, tenant=fresh.pk, before=before, after=after)
    return fresh


@transaction.atomic
def add_room(*, school: School, name: str, actor: User | None, at: datetime) -> Room:
    """Add a room; the same name twice in a school is the same room."""
    words = " ".join(name.split())
    known = Room.objects.filter(school=school, name__iexact=words).first()
    if known:
        return known
    room = Room(school=school, name=words)
    _checked(room)
    room.save()
    record_event(actor=actor, act="room_added", subject=room, at=at, tenant=school.pk)
    return room


@transaction.atomic
def add_person(
    *,
    username: str,
    name: str,
    actor: User | None,
    at: datetime,
    password: str = "",
    email: str = "",
    salt: str = "",
    first_role: Mapping[str, Any] | None = None,
) -> User:
    """Add somebody of the staff. Without a password nobody can log in under the name until one is set.

    ``first_role`` gives a role in the same act: {"role": …, "school": …}. ``salt`` is for a demo that must make the
    same rows twice; real passwords get a random one.
    """
    user = User(username=username.strip(), name=name.strip(), email=email.strip(), created_at=at)
    if password:
        _good_password(password, user)
        user.password = make_password(password, salt=salt or None)
    else:
        user.set_unusable_password()
    _checked(user)
    try:
        with transaction.atomic():
            user.save()
    except IntegrityError:
        raise NumberTakenError(f"Somebody logs in as {user.username} already.") from None
    record_event(actor=actor, act="person_added", subject=user, at=at)
    if first_role:
        give_role(user=user, actor=actor, at=at, **first_role)
    return user


@transaction.atomic
def change_person(*, user: User, name: str, email: str, actor: User, at: datetime) -> User:
    """Correct somebody's name or mail. The event says that it was done, never what the name is."""
    fresh = User.objects.get(pk=user.pk)
    fresh.name, fresh.email = name.strip(), email.strip()
    _checked(fresh)
    fresh.save(update_fields=["name", "email"])
    record_event(actor=actor, act="person_changed", subject=fresh, at=at)
    return fresh


def _good_password(password: str, user: User) -> None:
    try:
        validate_password(password, user)
    except ValidationError as error:
        raise RefusedError(" ".join(error.messages)) from None


@transaction.atomic
def set_password(*, user: User, password: str, actor: User, at: datetime) -> None:
    """Give somebody a new password; sessions under the old one end."""
    fresh = User.objects.get(pk=user.pk)
    _good_password(password, fresh)
    fresh.set_password(password)
    fresh.save(update_fields=["password"])
    record_event(actor=actor, act="password_set", subject=fresh, at=at)


@transaction.atomic
def set_active(*, user: User, is_active: bool, actor: User, at: datetime) -> None:
    """Let somebody in again, or keep them out; what they did stays told."""
    if user.pk == actor.pk and not is_active:
        raise RefusedError("You cannot lock yourself out.")
    changed = User.objects.filter(pk=user.pk).exclude(is_active=is_active).update(is_active=is_active)
    if changed:
        record_event(actor=actor, act="person_let_in" if is_active else "person_kept_out", subject=user, at=at)


@transaction.atomic
def give_role(*, user: User, role: str, actor: User | None, at: datetime, school: School | None = None) -> StaffRole:
    """Give somebody a role at a school, or (tech, auditor, administrator) in the whole district."""
    if role not in Role.values:
        raise RefusedError(f"There is no role called {role}.")
    if role == Role.DIRECTOR and school is None:
        raise RefusedError("A director directs at a school; choose which.")
    if role == Role.ADMINISTRATOR and school is not None:
        raise RefusedError("An administrator sets up the whole district; no school is named.")
    held, is_new = StaffRole.objects.get_or_create(user=user, role=role, school=school)
    if is_new:
        after = {"user": user.pk, "role": role, "school": school.pk if school else None}
        record_event(
            actor=actor, act="role_given", subject=held, at=at, tenant=school.pk if school else None, after=after
        )
    return held


@transaction.atomic
def take_role(*, held: StaffRole, actor: User, at: datetime) -> None:
    """Take a role away. The last administrator who can log in stays one."""
    others = StaffRole.objects.filter(role=Role.ADMINISTRATOR, user__is_active=True).exclude(pk=held.pk)
    if held.role == Role.ADMINISTRATOR and not others.exists():
        raise RefusedError("Somebody must stay administrator. Give the role to another first.")
    before = {"user": held.user_id, "role": held.role, "school": held.school_id}
    record_event(actor=actor, act="role_taken", subject=held, at=at, tenant=held.school_id, before=before)
    held.delete()
