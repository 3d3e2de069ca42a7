"""Letters to people: why one could not be sent, and what an administrator is told of it.

Django speaks to the mail server; what is queued of a letter is in ``core/tasks.py``. Nothing here names a person.
"""

from __future__ import annotations

import ssl
from collections.abc import Iterable
from contextlib import closing
from datetime import datetime, timedelta
from smtplib import (
    SMTPAuthenticationError,
    SMTPConnectError,
    SMTPDataError,
    SMTPException,
    SMTPHeloError,
    SMTPNotSupportedError,
    SMTPRecipientsRefused,
    SMTPResponseException,
    SMTPSenderRefused,
    SMTPServerDisconnected,
)
from typing import Any, NamedTuple

from django.core.mail import get_connection, send_mail
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _
from django_tasks_db.models import DBTaskResult

SENT, AGAIN, GIVEN_UP, NOTHING = "sent", "again", "given_up", "nothing"  # what came of a letter
TOLD_FOR = timedelta(days=7)  # as long as the queue keeps what is done

_tasks = ["core.tasks.mail_link"]


def register_letters(path: str) -> None:
    """Name a task that mails letters and returns what came of each, so that an administrator is told of trouble."""
    if path not in _tasks:
        _tasks.append(path)


WHY: dict[str, str | Promise] = {
    "away": _("The mail server does not answer."),
    "password": _("The mail server refuses the user name or password of HORNBOOK_EMAIL_URL."),
    "encryption": _(
        "The mail server offers no encryption, or none that can be trusted, so the password was not sent to it."
    ),
    "letter": _("The mail server refuses the letter: its sender (HORNBOOK_EMAIL_FROM), or the person's address."),
}


def why_not_sent(error: Exception) -> str:
    """Return the key of WHY for what Django or the mail server raised."""
    if isinstance(error, SMTPAuthenticationError):
        return "password"
    if isinstance(error, SMTPRecipientsRefused | SMTPSenderRefused | SMTPDataError):
        return "letter"
    if isinstance(error, SMTPServerDisconnected | SMTPConnectError | SMTPHeloError):
        return "away"
    if isinstance(error, SMTPNotSupportedError | SMTPResponseException | ssl.SSLError):  # STARTTLS missing or refused
        return "encryption"
    return "away"


def send_letter(*, subject: str, words: str, to: str) -> OSError | SMTPException | None:
    """Hand a letter in; return what kept it from being taken. Its words may repeat the address: log its kind only."""
    try:
        with closing(get_connection()) as connection:  # also where the server takes no letter
            send_mail(subject, words, None, [to], connection=connection)
    except (OSError, SMTPException) as error:
        return error
    return None


class MailTrouble(NamedTuple):
    """Letters are not sent: why, since the last one that was; ``given_up`` of them are not tried again."""

    why: str | Promise
    last_at: datetime
    given_up: int


def mail_trouble(*, now: datetime) -> MailTrouble | None:
    """Return what keeps letters from being sent; None once one was sent again, or nobody asked for a week."""
    done = DBTaskResult.objects.finished().filter(task_path__in=_tasks, finished_at__gt=now - TOLD_FOR)
    told = done.filter(return_value__outcome__in=[SENT, AGAIN, GIVEN_UP]).order_by("-finished_at")
    trouble: MailTrouble | None = None
    rows: Iterable[tuple[Any, Any]] = told.values_list("return_value", "finished_at")
    for said, at in rows:
        if said["outcome"] == SENT:
            break
        trouble = trouble or MailTrouble(WHY[said["why"]], at, 0)
        if said["outcome"] == GIVEN_UP:
            trouble = trouble._replace(given_up=trouble.given_up + 1)
    return trouble
