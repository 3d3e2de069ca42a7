"""The icon, for browsers that ask for it by its usual name."""

from __future__ import annotations

from pathlib import Path

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.views.decorators.cache import cache_control

from core.responses import file_response


@login_not_required
@cache_control(max_age=86_400)
def favicon(request: HttpRequest) -> HttpResponse:
    """Return our icon to browsers that ask beside a PDF, which names none."""
    icon = Path(settings.BASE_DIR) / "static" / "favicon.svg"
    return file_response(icon.read_bytes(), name=icon.name)
