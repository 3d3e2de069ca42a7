"""Mail, sent beside the answer: how long it takes must not tell whether a name exists."""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import datetime
from smtplib import SMTPException
from threading import BoundedSemaphore, Thread

from django.core.mail import send_mail
from django.db import connection
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext

from core.models import User
from core.services.accounts import MAIL_GOOD_FOR, make_mailed_link

logger = logging.getLogger(__name__)
AT_ONCE = BoundedSemaphore(8)  # who asks a thousand times does not start a thousand threads


def mail_link(*, username: str, home: str, at: datetime) -> bool:
    """Mail a one-time link to the person of this user name, and return whether one was sent."""
    user = User.objects.filter(username__iexact=username, is_active=True).exclude(email="").first()
    token = make_mailed_link(user=user, actor=None, at=at) if user else ""
    if user is None or not token:
        return False
    address = home + reverse("core:link", args=[token])
    minutes = int(MAIL_GOOD_FOR.total_seconds() // 60)
    words = render_to_string("core/mail/link.txt", {"name": user.name, "address": address, "minutes": minutes})
    try:
        send_mail(gettext("Set a new password for Hornbook"), words, None, [user.email])
    except (OSError, SMTPException) as error:
        logger.error("the link was not mailed: %s", type(error).__name__)  # noqa: TRY400  # no address in a traceback
        return False
    return True


def mail_link_in_background(*, username: str, home: str, at: datetime) -> None:
    beside(lambda: mail_link(username=username, home=home, at=at))


def beside(work: Callable[[], object]) -> None:
    """Do the work in a thread of its own, with a connection of its own; not at all while too much is under way."""
    if not AT_ONCE.acquire(blocking=False):
        logger.warning("too many links are being mailed; this one is not")
        return

    def run() -> None:
        try:
            work()
        finally:
            connection.close()
            AT_ONCE.release()

    Thread(target=run, name="mail").start()
