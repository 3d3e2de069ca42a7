"""The district's set-up: schools, rooms, people and what they may do."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.contrib.auth.hashers import make_password
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import models

from core.acts import lock_row, service
from core.events import record_event
from core.models import User
from inventory.exceptions import NumberTakenError, RefusedError
from inventory.models import District, Role, Room, School, StaffRole
from inventory.services.checking import check_row, save_columns

SPOKEN = {"return_words", "contact_phone"}  # may name a person: the row has them, the log does not


def _checked(row: models.Model) -> None:
    check_row(row, validate_unique=False, validate_constraints=False)  # answered where the row is saved


@service
def set_up_district(*, actor: User | None, at: datetime, **fields: Any) -> District:
    """Name the district, or change what it is called and how it numbers instruments.

    The next number only ever goes up, so that no number comes back.
    """
    district = District.objects.select_for_update(no_key=True).filter(pk=1).first() or District(pk=1)
    before = {name: getattr(district, name) for name in fields if name not in SPOKEN}
    if "next_asset_number" in fields and fields["next_asset_number"] < district.next_asset_number:
        raise RefusedError(
            f"The next number cannot go back below {district.next_asset_number}: numbers are never reused."
        )
    for name, value in fields.items():
        setattr(district, name, value)
    _checked(district)
    district.save(update_fields=None if district._state.adding else list(fields))
    after = {name: getattr(district, name) for name in before}
    record_event(act="district_changed", subject=district, before=before, after=after)
    return district


@service
def add_school(*, code: str, name: str, actor: User | None, at: datetime, phone: str = "") -> School:
    """Add a school; its code is taken once."""
    school = School(code=code.strip().upper(), name=name.strip(), phone=phone.strip())
    _checked(school)
    if School.objects.filter(code=school.code).exists():
        raise NumberTakenError(f"There is a school with the code {school.code} already.")
    school.save(force_insert=True)
    record_event(act="school_added", subject=school, tenant=school.pk, after={"code": school.code})
    return school


@service
def change_school(*, school: School, name: str, phone: str, actor: User, at: datetime) -> School:
    """Correct a school's name or phone. Its code stays: it is printed and scripted."""
    fresh = lock_row(school)
    before = {"name": fresh.name}
    save_columns(fresh, name=name.strip(), phone=phone.strip())
    after = {"name": fresh.name}
    record_event(act="school_changed", subject=fresh, tenant=fresh.pk, before=before, after=after)
    return fresh


@service
def add_room(*, school: School, name: str, actor: User | None, at: datetime) -> Room:
    """Add a room; the same name twice in a school is the same room."""
    words = " ".join(name.split())
    known = Room.objects.filter(school=school, name__iexact=words).first()
    if known:
        return known
    room = Room(school=school, name=words)
    _checked(room)
    room.save(force_insert=True)
    record_event(act="room_added", subject=room, tenant=school.pk)
    return room


@service
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
    if User.objects.filter(username__iexact=user.username).exists():
        raise NumberTakenError(f"Somebody logs in as {user.username} already.")
    user.save(force_insert=True)
    record_event(act="person_added", subject=user)
    if first_role:
        give_role(user=user, actor=actor, at=at, **first_role)
    return user


@service
def change_person(*, user: User, name: str, email: str, actor: User, at: datetime) -> User:
    """Correct somebody's name or mail. The event says that it was done, never what the name is."""
    fresh = lock_row(user)
    save_columns(fresh, name=name.strip(), email=email.strip())
    record_event(act="person_changed", subject=fresh)
    return fresh


def _good_password(password: str, user: User) -> None:
    try:
        validate_password(password, user)
    except ValidationError as error:
        raise RefusedError(" ".join(error.messages)) from None


@service
def set_password(*, user: User, password: str, actor: User, at: datetime) -> None:
    """Give somebody a new password; sessions under the old one end."""
    fresh = User.objects.get(pk=user.pk)
    _good_password(password, fresh)
    fresh.set_password(password)
    fresh.save(update_fields=["password"])
    record_event(act="password_set", subject=fresh)


@service
def set_active(*, user: User, is_active: bool, actor: User, at: datetime) -> None:
    """Let somebody in again, or keep them out; what they did stays told."""
    if user.pk == actor.pk and not is_active:
        raise RefusedError("You cannot lock yourself out.")
    changed = User.objects.filter(pk=user.pk).exclude(is_active=is_active).update(is_active=is_active)
    if changed:
        record_event(act="person_let_in" if is_active else "person_kept_out", subject=user)


@service
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
        record_event(act="role_given", subject=held, tenant=school.pk if school else None, after=after)
    return held


@service
def take_role(*, held: StaffRole, actor: User, at: datetime) -> None:
    """Take a role away. The last administrator who can log in stays one."""
    administrators = StaffRole.objects.select_for_update(of=("self",)).filter(role=Role.ADMINISTRATOR)
    others = [one for one in administrators.filter(user__is_active=True).order_by("pk") if one.pk != held.pk]
    if held.role == Role.ADMINISTRATOR and not others:
        raise RefusedError("Somebody must stay administrator. Give the role to another first.")
    before = {"user": held.user_id, "role": held.role, "school": held.school_id}
    record_event(act="role_taken", subject=held, tenant=held.school_id, before=before)
    StaffRole.objects.filter(pk=held.pk).delete()
