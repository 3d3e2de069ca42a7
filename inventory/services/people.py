"""The district's set-up: schools, rooms, people and what they may do."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib.auth.hashers import UNUSABLE_PASSWORD_PREFIX, make_password
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext

from core.acts import lock_row, service
from core.events import record_event
from core.models import User
from core.passwords import normalized
from core.second_steps import users_with_one
from core.services.accounts import check_password_rules, end_sessions
from core.services.second_steps import note_due
from inventory.exceptions import NumberTakenError, RefusedError
from inventory.models import District, Role, Room, School, StaffRole
from inventory.services.checking import check_row, save_columns

FREE_TEXT = {"return_words", "contact_phone"}  # may name a person: the row has them, the log does not


def _checked(row: models.Model) -> None:
    check_row(row, validate_unique=False, validate_constraints=False)  # refused where the row is saved


@service
def set_up_district(*, actor: User | None, at: datetime, **fields: Any) -> District:
    """Set the name of the district and how it numbers instruments.

    The next number only goes up, so that none is used twice.
    """
    district = District.objects.select_for_update(no_key=True).filter(pk=1).first() or District(pk=1)
    before = {name: getattr(district, name) for name in fields if name not in FREE_TEXT}
    if "next_asset_number" in fields and fields["next_asset_number"] < district.next_asset_number:
        raise RefusedError(
            gettext("The next number cannot go below %(number)d: numbers are never reused.")
            % {"number": district.next_asset_number}
        )
    for name, value in fields.items():
        setattr(district, name, value)
    _checked(district)
    district.save(update_fields=None if district._state.adding else list(fields))
    if before.get("second_step_roles") != fields.get("second_step_roles"):
        _note_who_owes_a_step(district)
    after = {name: getattr(district, name) for name in before}
    record_event(act="district_changed", subject=district, before=before, after=after)
    return district


def _note_who_owes_a_step(district: District) -> None:
    """Store for everybody at once whether they must add a second step before anything else."""
    holders = StaffRole.objects.filter(role__in=district.second_step_roles).values("user")
    owing = Q(pk__in=holders) & ~Q(pk__in=users_with_one())
    User.objects.filter(owing, second_step_due=False).update(second_step_due=True)
    User.objects.filter(~owing, second_step_due=True).update(second_step_due=False)


@service(once="nonce")
def add_school(
    *, code: str, name: str, actor: User | None, at: datetime, nonce: UUID | None = None, **reached: str
) -> School:
    """Add a school; refused when its code is taken. ``reached`` are phone, email and address."""
    school = School(code=code.strip().upper(), name=name.strip(), **_stripped(reached))
    _checked(school)
    if School.objects.filter(code=school.code).exists():
        raise NumberTakenError(gettext("A school already has the code %(code)s.") % {"code": school.code})
    school.save(force_insert=True)
    record_event(act="school_added", subject=school, tenant=school.pk, after={"code": school.code})
    return school


@service
def change_school(*, school: School, name: str, actor: User, at: datetime, **reached: str) -> School:
    """Correct a school's name, phone, email or address. Its code stays: labels and scripts use it."""
    fresh = lock_row(school)
    before = {"name": fresh.name}
    save_columns(fresh, name=name.strip(), **_stripped(reached))
    after = {"name": fresh.name}
    record_event(act="school_changed", subject=fresh, tenant=fresh.pk, before=before, after=after)
    return fresh


def _stripped(texts: Mapping[str, str]) -> dict[str, Any]:
    return {name: text.strip() for name, text in texts.items()}


@service(once="nonce")
def add_room(*, school: School, name: str, actor: User | None, at: datetime, nonce: UUID | None = None) -> Room:
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


@service(once="nonce")
def add_person(
    *,
    username: str,
    name: str,
    actor: User | None,
    at: datetime,
    password: str = "",
    is_first: bool = False,
    email: str = "",
    salt: str = "",
    first_role: Mapping[str, Any] | None = None,
    nonce: UUID | None = None,
) -> User:
    """Add a staff member, who cannot log in until a password is set.

    ``is_first``: the password is somebody else's choice, for the first log-in only. ``first_role`` gives a role in the
    same act: {"role": …, "school": …}. ``salt`` is for a demo that must make the same rows every time; real passwords
    get a random one.
    """
    user = User(username=username.strip(), name=name.strip(), email=email.strip(), created_at=at)
    if password:
        check_password_rules(password=password, user=user)
        user.password, user.password_is_first = make_password(normalized(password), salt=salt or None), is_first
    else:
        user.set_unusable_password()
    _checked(user)
    if User.objects.filter(username__iexact=user.username).exists():
        raise NumberTakenError(gettext("The user name %(name)s is taken.") % {"name": user.username})
    user.save(force_insert=True)
    record_event(act="person_added", subject=user)
    if first_role:
        give_role(user=user, actor=actor, at=at, **first_role)
    return user


@service
def change_person(*, user: User, name: str, email: str, actor: User, at: datetime) -> User:
    """Correct somebody's name or email. The event records that it was done, never the name."""
    fresh = lock_row(user)
    save_columns(fresh, name=name.strip(), email=email.strip())
    record_event(act="person_changed", subject=fresh)
    return fresh


def _check_administrator_left(*, without: Q) -> None:
    """Refuse unless an administrator who can log in is left.

    All administrators are locked, those who go as well, so that two who remove each other at once wait for one another.
    """
    administrators = StaffRole.objects.select_for_update(of=("self",)).filter(role=Role.ADMINISTRATOR).order_by("pk")
    locked = [held.pk for held in administrators]
    can_log_in = StaffRole.objects.filter(pk__in=locked, user__is_active=True).exclude(
        user__password__startswith=UNUSABLE_PASSWORD_PREFIX
    )
    if not can_log_in.exclude(without).exists():
        raise RefusedError(gettext("Somebody must remain administrator. Give somebody else the role first."))


@service
def set_active(*, user: User, is_active: bool, actor: User, at: datetime) -> None:
    """Activate or deactivate somebody; their sessions end for good, and what they did stays in the log."""
    if user.pk == actor.pk and not is_active:
        raise RefusedError(gettext("You cannot deactivate yourself."))
    if not is_active and StaffRole.objects.filter(user=user, role=Role.ADMINISTRATOR).exists():
        _check_administrator_left(without=Q(user=user))
    changed = User.objects.filter(pk=user.pk).exclude(is_active=is_active).update(is_active=is_active)
    if changed:
        end_sessions(user=user, actor=actor, at=at)
        record_event(act="person_let_in" if is_active else "person_kept_out", subject=user)


@service(once="nonce")
def give_role(
    *,
    user: User,
    role: str,
    actor: User | None,
    at: datetime,
    school: School | None = None,
    nonce: UUID | None = None,
) -> StaffRole:
    """Give somebody a role at a school, or (tech, auditor, administrator) in the whole district.

    Their sessions end, so that nobody goes on with pages of another role.
    """
    if role not in Role.values:
        raise RefusedError(gettext("There is no role called %(role)s.") % {"role": role})
    if role == Role.DIRECTOR and school is None:
        raise RefusedError(gettext("A director needs a school. Choose one."))
    if role == Role.ADMINISTRATOR and school is not None:
        raise RefusedError(gettext("An administrator has the whole district. Choose no school."))
    held = StaffRole.objects.filter(user=user, role=role, school=school).first()
    if held is None:
        held = StaffRole.objects.create(user=user, role=role, school=school)
        note_due(end_sessions(user=user, actor=actor, at=at))
        after = {"user": user.pk, "role": role, "school": school.pk if school else None}
        record_event(act="role_given", subject=held, tenant=school.pk if school else None, after=after)
    return held


@service
def remove_role(*, held: StaffRole, actor: User, at: datetime) -> None:
    """Remove a role, and end the person's sessions; refused for the last administrator who can log in."""
    if held.role == Role.ADMINISTRATOR:
        _check_administrator_left(without=Q(pk=held.pk))
    before = {"user": held.user_id, "role": held.role, "school": held.school_id}
    record_event(act="role_taken", subject=held, tenant=held.school_id, before=before)
    StaffRole.objects.filter(pk=held.pk).delete()
    note_due(end_sessions(user=held.user, actor=actor, at=at))
