"""Context for every page."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpRequest


def site(request: HttpRequest) -> dict[str, Any]:
    return {"is_demo": settings.DEMO, "public_address": settings.PUBLIC_ADDRESS, "version": settings.VERSION}
