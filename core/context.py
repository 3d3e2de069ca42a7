"""Context for every page."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.utils.crypto import salted_hmac
from django.utils.functional import SimpleLazyObject


def site(request: HttpRequest) -> dict[str, Any]:
    return {
        "is_demo": settings.DEMO,
        "public_address": settings.PUBLIC_ADDRESS,
        "version": settings.VERSION,
        "is_held": is_held(request),
        "device": SimpleLazyObject(lambda: device_of(request)),  # an error page asks nobody's name
    }


def is_held(request: HttpRequest) -> bool:
    """Whether a script asks for the page to keep it on the device: then it names no student and nothing typed freely."""
    return "X-Held" in request.headers


def seal_of(user: Any) -> str:
    return salted_hmac("core.device.seal", str(user.pk), algorithm="sha256").hexdigest()


def device_of(request: HttpRequest) -> dict[str, Any]:
    """Return what a person's own pages need to keep things on the device (static/js/device-store.js).

    ``seal`` is the server's half of the key to them: the same for a person at every log-in, and nobody else's. ``session``
    tells one log-in from the next and leads to no session. A page that is kept on the device comes without the seal, or
    what is kept would open itself.
    """
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {}
    session = request.session.session_key or ""
    return {
        "person": user.pk,
        "seal": "" if is_held(request) else seal_of(user),
        "session": salted_hmac("core.device.session", session, algorithm="sha256").hexdigest()[:16],
        "hours": settings.DEVICE_HOURS,
    }
