"""Letters with a link for a new password, by the queue: how long one takes must not tell whether a name exists."""

from __future__ import annotations

import logging
from datetime import datetime, timedelta

from django.db.models import QuerySet
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext
from django_tasks import TaskContext, task
from django_tasks_db.models import DBTaskResult

from core.mail import AGAIN, GIVEN_UP, NOTHING, SENT, send_letter, why_not_sent
from core.models import User
from core.queue import wait_after
from core.services.accounts import MAIL_GOOD_FOR, keep_mailed_link, new_token, was_just_mailed

logger = logging.getLogger(__name__)
TRIES = 4  # within some twenty minutes: then whoever asked has gone to an administrator
MOST_AN_HOUR = 300  # who asks a thousand times does not fill the queue


def _reachable() -> QuerySet[User]:
    return User.objects.filter(is_active=True).exclude(email="")


def queue_link(*, username: str, home: str, at: datetime) -> None:
    """Queue a letter for whoever is asked for: the same row for a name that nobody has, and no word that was typed."""
    recent = DBTaskResult.objects.filter(task_path=mail_link.module_path, enqueued_at__gt=at - timedelta(hours=1))
    person = _reachable().filter(username__iexact=username).first()
    if recent.count() >= MOST_AN_HOUR:
        logger.warning("too many links for a new password are asked for; this one is not mailed")
        return
    mail_link.enqueue(person=person.pk if person else 0, home=home)


@task(takes_context=True)
def mail_link(context: TaskContext, *, person: int, home: str, failures: int = 0) -> dict[str, str]:
    """Mail a one-time link to a person, or try again later, a few times; return what came of it.

    The link is kept once the letter is sent: killed between the two, the letter goes out again with a link that works.
    """
    now = context.task_result.started_at
    user = _reachable().filter(pk=person).first()
    if now is None or user is None or was_just_mailed(user, at=now):
        return {"outcome": NOTHING}
    token = new_token()
    address = home + reverse("core:link", args=[token])
    minutes = int(MAIL_GOOD_FOR.total_seconds() // 60)
    words = render_to_string("core/mail/link.txt", {"name": user.name, "address": address, "minutes": minutes})
    error = send_letter(subject=gettext("Set a new password for Hornbook"), words=words, to=user.email)
    if error is not None:
        failures += 1
        logger.error("a link was not mailed, %d times now: %s", failures, type(error).__name__)
        if failures < TRIES:
            mail_link.using(run_after=now + wait_after(failures)).enqueue(person=person, home=home, failures=failures)
        return {"outcome": AGAIN if failures < TRIES else GIVEN_UP, "why": why_not_sent(error)}
    keep_mailed_link(user=user, token=token, actor=None, at=now)
    return {"outcome": SENT}
