"""The second step of the log-in: one-time codes, passkeys and recovery codes, by allauth's mfa.

Its rows and its checks are used, its pages and its way through the log-in are not (docs/decisions/). This is the only
module that imports it.
"""

from __future__ import annotations

import json
from base64 import urlsafe_b64encode
from collections.abc import Iterable, Mapping
from typing import Any

from allauth.core.internal.cryptokit import compare_user_code
from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.models import Authenticator
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import (
    TOTP,
    format_hotp_value,
    generate_totp_secret,
    hotp_value,
    yield_hotp_counters_from_time,
)
from allauth.mfa.webauthn.internal import auth as webauthn
from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.utils.encoding import force_bytes

from core.models import User

CODES, PASSKEY, RECOVERY = Authenticator.Type.TOTP, Authenticator.Type.WEBAUTHN, Authenticator.Type.RECOVERY_CODES
STEPS = (CODES, PASSKEY)  # recovery codes stand in for one of these; alone they are none
SITE = "Hornbook"
BROKEN = (ValidationError, ValueError, TypeError, KeyError, AttributeError)  # raised by a malformed answer


def _cipher() -> MultiFernet:
    """Return what encrypts secrets in the database, so that a copy of it alone makes no codes."""
    keys = [settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS]
    derived = (
        HKDF(algorithm=SHA256(), length=32, salt=None, info=b"second steps of the log-in").derive(force_bytes(key))
        for key in keys
    )
    return MultiFernet([Fernet(urlsafe_b64encode(key)) for key in derived])


class Adapter(DefaultMFAAdapter):  # type: ignore[misc]  # untyped
    """What the library asks of a site."""

    def get_totp_issuer(self) -> str:
        return SITE

    def _get_site_name(self) -> str:
        return SITE

    def _get_user_identifier(self, user: User) -> str:
        return user.username

    def encrypt(self, text: str) -> str:
        return _cipher().encrypt(text.encode()).decode()

    def decrypt(self, encrypted_text: str) -> str:
        return _cipher().decrypt(encrypted_text.encode()).decode()


def steps_of(user: User) -> QuerySet[Any]:
    """The second steps somebody has, oldest first."""
    rows: QuerySet[Any] = Authenticator.objects.filter(user_id=user.pk, type__in=STEPS).order_by("pk")
    return rows


def has_second_step(user: User) -> bool:
    return steps_of(user).exists()


def users_with_one() -> QuerySet[Any]:
    """The keys of everybody who has a second step."""
    rows: QuerySet[Any] = Authenticator.objects.filter(type__in=STEPS).values("user")
    return rows


def name_of(step: Any) -> str:
    """What somebody called a passkey; "" for the app with codes."""
    return str(step.data.get("name", ""))


def delete_steps(user: User, *, types: Iterable[str] = Authenticator.Type.values) -> None:
    """Delete somebody's second steps and recovery codes, or what they have of these types."""
    Authenticator.objects.filter(user_id=user.pk, type__in=list(types)).delete()


# One-time codes (RFC 6238).


def new_secret() -> str:
    return str(generate_totp_secret())


def app_address(user: User, secret: str) -> str:
    """The address that sets up an app which shows the codes."""
    return str(Adapter().build_totp_url(user, secret))


def app_picture(address: str) -> str:
    """The address as a QR code, one SVG element."""
    drawn = str(Adapter().build_totp_svg(address))
    return drawn[drawn.index("<svg") :]


def counter_of(secret: str, code: str) -> int | None:
    """Return the half-minute the code belongs to: this one, the last or the next; None for a wrong code."""
    for counter in yield_hotp_counters_from_time():
        if compare_user_code(actual=code, expected=format_hotp_value(hotp_value(secret, counter))):
            return int(counter)
    return None


def add_app(user: User, *, secret: str, counter: int) -> Any:
    step = TOTP.activate(user, secret).instance
    step.data["counter"] = counter
    step.save(update_fields=["data"])
    return step


def takes_code(step: Any, code: str) -> bool:
    """Whether the app's code is right and newer than the last one taken: each works once (RFC 6238, section 5.2).

    The row must be locked.
    """
    try:
        secret = Adapter().decrypt(step.data["secret"])
    except InvalidToken:  # the server's key was changed; an administrator resets the step
        return False
    counter = counter_of(secret, code)
    if counter is None or counter <= step.data.get("counter", 0):
        return False
    step.data["counter"] = counter
    step.save(update_fields=["data"])
    return True


# Recovery codes.


def make_recovery_codes(user: User) -> list[str]:
    """Make new codes, in place of those there were."""
    delete_steps(user, types=[RECOVERY])
    return [str(code) for code in RecoveryCodes.activate(user).generate_codes()]


def recovery_codes_left(user: User) -> int | None:
    """How many are left; None where none were made, or they can no longer be read."""
    row = Authenticator.objects.filter(user_id=user.pk, type=RECOVERY).first()
    try:
        return None if row is None else len(RecoveryCodes(row).get_unused_codes())
    except InvalidToken:
        return None


def takes_recovery_code(user: User, code: str) -> bool:
    """Whether it is one of the codes that are left; it is used up."""
    row = Authenticator.objects.filter(user_id=user.pk, type=RECOVERY).first()
    try:
        return row is not None and bool(RecoveryCodes(row).validate_code(code))
    except InvalidToken:
        return False


# Passkeys (WebAuthn). The challenge is kept in the session of the running request.


def passkey_options(user: User) -> dict[str, Any]:
    """What the browser is handed to make a passkey."""
    return _plain(webauthn.begin_registration(user, False))  # noqa: FBT003  # not in place of the password


def passkey_question(user: User) -> dict[str, Any]:
    """What the browser is handed to show one of the passkeys somebody has."""
    return _plain(webauthn.begin_authentication(user))


def _plain(options: Any) -> dict[str, Any]:
    read: dict[str, Any] = json.loads(json.dumps(options, default=dict))
    return read


def credential_of(text: str) -> dict[str, Any] | None:
    """Read what the browser answered; None if that is no answer."""
    try:
        read = json.loads(text)
    except (ValueError, RecursionError):
        return None
    return read if isinstance(read, dict) else None


def add_passkey(user: User, *, name: str, credential: Mapping[str, Any]) -> Any | None:
    """Keep a passkey that answers the challenge; None if it does not."""
    try:
        webauthn.parse_registration_response(credential)
        webauthn.complete_registration(dict(credential))
    except BROKEN:
        return None
    return webauthn.WebAuthn.add(user, name, dict(credential)).instance


def passkey_answering(user: User, credential: Mapping[str, Any]) -> tuple[Any, int] | None:
    """Return the passkey of somebody's that answers the challenge, with how often it says it was used; None if none."""
    try:
        counted = webauthn.parse_authentication_response(credential).response.authenticator_data.counter
        return webauthn.complete_authentication(user, dict(credential)), int(counted)
    except BROKEN:
        return None


def takes_count(step: Any, counted: int) -> bool:
    """Whether a passkey's counter has grown, or it keeps none (Web Authentication, level 2, section 7.2, step 21).

    One that has not grown is the sign of a copy: it is refused and marked. The row must be locked.
    """
    last = step.data.get("counted")
    if last is None:  # it was made and not used since
        last = step.wrap().authenticator_data.counter
    if (counted or last) and counted <= last:
        step.data["is_copied"] = True
        step.save(update_fields=["data"])
        return False
    step.data["counted"] = counted
    step.save(update_fields=["data"])
    step.record_usage()
    return True


def is_copied(step: Any) -> bool:
    """Whether a passkey has answered as only one of two copies does."""
    return bool(step.data.get("is_copied"))
