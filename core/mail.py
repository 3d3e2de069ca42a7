"""Letters to people: why one could not be sent, and what an administrator is told of it.

Django speaks to the mail server; what is queued of a letter is in ``core/tasks.py``. Nothing here names a person.
"""

from __future__ import annotations

import re
import ssl
from collections.abc import Iterable, Mapping
from contextlib import closing
from datetime import datetime, timedelta
from email.charset import QP, Charset
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
from typing import Any, Final, NamedTuple

from django.core.mail import EmailMessage, get_connection
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _
from django_tasks_db.models import DBTaskResult

SENT, AGAIN, GIVEN_UP, NOTHING = "sent", "again", "given_up", "nothing"  # what came of a letter
LOOKED_BACK = timedelta(days=7)  # as long as the queue keeps what is done

IN_SEVEN_BITS = Charset("utf-8")  # not every server on the way takes eight (RFC 6152), nor lines of any length
IN_SEVEN_BITS.body_encoding = QP

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
    "letter": _("The mail server rejects the message: its sender (HORNBOOK_EMAIL_FROM), or the person's address."),
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


def send_letter(
    *, subject: str, words: str, to: str, reply_to: str = "", headers: Mapping[str, str] | None = None
) -> OSError | SMTPException | None:
    """Hand a letter in; return what kept it from being taken. Its words may repeat the address: log its kind only."""
    try:
        with closing(get_connection()) as connection:  # also where the server takes no letter
            letter = EmailMessage(
                subject, words, None, [to], reply_to=[reply_to] if reply_to else None, headers=dict(headers or {}),
                connection=connection,
            )  # fmt: skip
            letter.encoding = IN_SEVEN_BITS
            letter.send()
    except (OSError, SMTPException) as error:
        return error
    return None


NO_MAILBOX: Final = (550, 551, 553)  # RFC 5321, section 4.2.3
ENHANCED_CODE = re.compile(rb"\s*5\.(\d{1,3})\.\d{1,3}\b")
ABOUT_THE_ADDRESS: Final = (b"1", b"2")  # RFC 3463, section 3: address, mailbox; 7, a policy, is our own trouble


def is_address_refused(error: Exception) -> bool:
    """Whether the mail server says for good that there is nobody at the address; a refusal for now is none."""
    if not isinstance(error, SMTPRecipientsRefused):
        return False
    return all(_is_about_address(code, words) for code, words in error.recipients.values())


def _is_about_address(code: int, words: bytes) -> bool:
    detail = ENHANCED_CODE.match(words)
    return detail[1] in ABOUT_THE_ADDRESS if detail else code in NO_MAILBOX


class MailTrouble(NamedTuple):
    """Letters are not sent: why, since the last one that was; ``given_up`` of them are not tried again."""

    why: str | Promise
    last_at: datetime
    given_up: int


def mail_trouble(*, now: datetime) -> MailTrouble | None:
    """Return what keeps letters from being sent; None once one was sent again, or nobody asked for a week."""
    done = DBTaskResult.objects.finished().filter(task_path__in=_tasks, finished_at__gt=now - LOOKED_BACK)
    tries = done.filter(return_value__outcome__in=[SENT, AGAIN, GIVEN_UP]).order_by("-finished_at")
    trouble: MailTrouble | None = None
    rows: Iterable[tuple[Any, Any]] = tries.values_list("return_value", "finished_at")
    for result, at in rows:
        if result["outcome"] == SENT:
            break
        trouble = trouble or MailTrouble(WHY[result["why"]], at, 0)
        if result["outcome"] == GIVEN_UP:
            trouble = trouble._replace(given_up=trouble.given_up + 1)
    return trouble
