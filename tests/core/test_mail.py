"""What keeps letters from being sent, by what was raised. Real conversations are in test_tasks."""

from __future__ import annotations

import smtplib
import ssl

import pytest
from django.utils import timezone

from core.mail import WHY, mail_trouble, why_not_sent


@pytest.mark.parametrize(
    ("error", "why"),
    [
        (smtplib.SMTPAuthenticationError(535, b"no"), "password"),
        (smtplib.SMTPNotSupportedError("STARTTLS"), "encryption"),
        (smtplib.SMTPResponseException(454, b"no TLS"), "encryption"),
        (ssl.SSLCertVerificationError("self-signed"), "encryption"),
        (smtplib.SMTPSenderRefused(550, b"no", "a@b"), "letter"),
        (smtplib.SMTPRecipientsRefused({}), "letter"),
        (smtplib.SMTPDataError(554, b"spam"), "letter"),
        (smtplib.SMTPServerDisconnected("bye"), "away"),
        (smtplib.SMTPConnectError(421, b"busy"), "away"),
        (ConnectionRefusedError(), "away"),
        (TimeoutError(), "away"),
        (OSError("no such host"), "away"),
    ],
)
def test_each_kind_of_trouble_has_its_words(error, why):
    assert why_not_sent(error) == why
    assert WHY[why]


@pytest.mark.django_db
def test_where_nobody_asked_there_is_no_trouble():
    assert mail_trouble(now=timezone.now()) is None
