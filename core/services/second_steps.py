"""Second steps added, used, removed and reset, each with its event."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.utils.translation import gettext

from core import second_steps as steps
from core.access import asks_second_step
from core.acts import service
from core.events import record_event
from core.exceptions import RefusedError
from core.models import User
from core.services.accounts import end_sessions, locked

MOST_STEPS = 10


class CopiedPasskeyError(RefusedError):
    """A passkey's counter did not grow."""

    def __init__(self) -> None:
        super().__init__(
            gettext(
                "This passkey answered out of order: a copy of it may be in use, so it was refused. Log in another way, then remove it under Your log-in and tell an administrator."
            )
        )


@service
def add_code_app(*, user: User, secret: str, code: str, actor: User | None, at: datetime) -> list[str]:
    """Add an app with one-time codes, proved by one of them. Return recovery codes if these are the first."""
    person = locked(user)
    if steps.steps_of(person).filter(type=steps.CODES).exists():
        raise RefusedError(gettext("You already have an app. Remove it first to set up another."))
    counter = steps.counter_of(secret, code)
    if counter is None:
        raise RefusedError(
            gettext(
                "That is not the code the app shows now. Wait for the next one, and check that the phone's clock is "
                "right."
            )
        )
    steps.add_app(person, secret=secret, counter=counter)
    return _added(person, kind=steps.CODES)


@service
def add_passkey(*, user: User, name: str, credential: Mapping[str, Any], actor: User | None, at: datetime) -> list[str]:
    """Add a passkey that answered the challenge. Return recovery codes if these are the first."""
    person = locked(user)
    if steps.steps_of(person).count() >= MOST_STEPS:
        raise RefusedError(gettext("You cannot have more second steps. Remove one first."))
    if steps.add_passkey(person, name=name, credential=credential) is None:
        raise RefusedError(gettext("The passkey was not accepted. Try again; nothing was changed."))
    return _added(person, kind=steps.PASSKEY)


def _added(user: User, *, kind: str) -> list[str]:
    record_event(act="second_step_added", subject=user, after={"kind": str(kind)})
    note_due(user)
    return steps.make_recovery_codes(user) if steps.recovery_codes_left(user) is None else []


def note_due(user: User) -> None:
    """Store whether somebody must add a second step before anything else."""
    is_due = asks_second_step(user) and not steps.has_second_step(user)
    User.objects.filter(pk=user.pk).exclude(second_step_due=is_due).update(second_step_due=is_due)


@service
def remove_step(*, user: User, pk: int, actor: User | None, at: datetime) -> None:
    """Remove one of one's own second steps; with the last one the recovery codes go too."""
    person = locked(user)
    mine = steps.steps_of(person)
    step = mine.filter(pk=pk).first()
    if step is None:
        return  # it is gone already
    if mine.count() == 1 and asks_second_step(person):
        raise RefusedError(gettext("Your role needs a second step. Add another one first, then remove this one."))
    step.delete()
    if not steps.has_second_step(person):
        steps.delete_steps(person)
    record_event(act="second_step_removed", subject=person, before={"kind": str(step.type)})


@service
def renew_recovery_codes(*, user: User, actor: User | None, at: datetime) -> list[str]:
    """Make new recovery codes; the old ones are worth nothing from now on."""
    person = locked(user)
    if not steps.has_second_step(person):
        raise RefusedError(gettext("Recovery codes are for people who have a second step. Add one first."))
    record_event(act="recovery_codes_made", subject=person)
    return steps.make_recovery_codes(person)


@service
def reset_second_step(*, user: User, actor: User | None, at: datetime) -> bool:
    """Remove every second step of somebody who lost the phone, and end their sessions; whether there was any."""
    person = locked(user)
    had = steps.has_second_step(person)
    steps.delete_steps(person)
    if had:
        record_event(act="second_step_reset", subject=person)
        end_sessions(user=person, actor=actor, at=at)
    note_due(person)
    return had


def use_passkey(*, user: User, credential: Mapping[str, Any], actor: User | None, at: datetime) -> bool:
    """Whether one of somebody's passkeys answers the challenge. CopiedPasskeyError, with an event, if it is a copy."""
    answered = steps.passkey_answering(user, credential)
    if answered is None:
        return False
    if not _count_passkey(user=user, step=answered[0], counted=answered[1], actor=actor, at=at):
        raise CopiedPasskeyError
    return True


@service
def _count_passkey(*, user: User, step: Any, counted: int, actor: User | None, at: datetime) -> bool:
    """Keep a passkey's counter; whether it has grown. An act of its own, which stays when the log-in is refused."""
    person = locked(user)  # two copies at once: the second finds what the first counted
    fresh = steps.steps_of(person).filter(pk=step.pk).first()
    if fresh is None:
        return False
    is_good = steps.takes_count(fresh, counted)
    if not is_good:
        record_event(act="passkey_copied", subject=person, actor=person, after={"counted": counted})
    return is_good


@service
def use_code(*, user: User, code: str, actor: User | None, at: datetime) -> str:
    """Take a code from the app or one of the recovery codes: return which it was, "" if neither."""
    person = locked(user)  # two who send one code at once: the second finds it used
    app = steps.steps_of(person).filter(type=steps.CODES).first()
    if app is not None and steps.takes_code(app, code):
        return str(steps.CODES)
    if steps.takes_recovery_code(person, code):
        left = steps.recovery_codes_left(person)
        record_event(act="recovery_code_used", subject=person, actor=person, after={"left": left})
        return str(steps.RECOVERY)
    return ""
