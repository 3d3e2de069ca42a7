"""What makes a phone keep Hornbook: the manifest, the service worker with its list of files, and the page without a signal."""

from __future__ import annotations

import hashlib
import json
from functools import cache
from pathlib import Path

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_safe

FOLDER = Path(settings.BASE_DIR) / "static"
WORKER = FOLDER / "js" / "service-worker.js"
FIRST = ("vendor/workbox/core.js", "vendor/workbox/routing.js", "vendor/workbox/strategies.js", "js/sealed-rows.js")
OF_PACKAGES = ("django_htmx/htmx-2.min.js",)  # as its tag names it
SERVED = {".css", ".js", ".svg", ".wasm", ".woff2"}
HOME = "/offline/"


def names_in(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*.*") if path.suffix in SERVED}


def file_names() -> list[str]:
    """Return the files of ours that pages are drawn with, by their names below static/: in bundles where they are made."""
    first = Path(settings.STATICFILES_DIRS[0])
    parts = ("vendor/workbox/", "js/service-worker.js", *(() if first == FOLDER else ("css/", "js/")))
    return sorted(names_in(first) | {name for name in names_in(FOLDER) if not name.startswith(parts)})


def worker_facts() -> dict[str, object]:
    """Return what the service worker is told: scripts import each other by plain names, pages name them with a hash."""
    names = file_names()
    plain = [f"/{settings.STATIC_URL.strip('/')}/{name}" for name in names if Path(name).suffix in {".js", ".wasm"}]
    named = (name for name in names if not name.endswith(".wasm"))  # that a script asks for, by its plain name
    files = {static(name) for name in (*named, *OF_PACKAGES)} | set(plain)
    content = hashlib.sha256()
    for name in (*names, *FIRST):
        content.update(Path(finders.find(name) or FOLDER / name).read_bytes())
    no_signal = reverse("core:no-signal")
    return {
        "scripts": [static(name) for name in FIRST],
        "files": [no_signal, *sorted(files)],
        "version": f"{settings.VERSION}-{content.hexdigest()[:12]}",
        "root": f"/{settings.STATIC_URL.strip('/')}/",
        "home": HOME,
        "plain": no_signal,
    }


def worker_text() -> str:
    return f"const HORNBOOK = {json.dumps(worker_facts())};\n{WORKER.read_text('utf-8')}"


kept_worker_text = cache(worker_text)


@login_not_required
@cache_control(no_cache=True)
def service_worker(request: HttpRequest) -> HttpResponse:
    """Return the script that answers for the server when there is no signal; it stands at the root to reach every page."""
    text = worker_text() if settings.DEBUG else kept_worker_text()
    return HttpResponse(text, content_type="text/javascript; charset=utf-8")


@login_not_required
@cache_control(max_age=86_400)
def manifest(request: HttpRequest) -> HttpResponse:
    """Return what a phone installs Hornbook by."""
    facts = {
        "id": "/",
        "name": "Hornbook",
        "short_name": "Hornbook",
        "description": _("Instruments of the school, on the phone"),
        "start_url": "/",
        "scope": "/",
        "display": "standalone",
        "background_color": "#fbf8f1",
        "theme_color": "#fbf8f1",
        "icons": [
            {"src": static("favicon.svg"), "sizes": "any", "type": "image/svg+xml"},
            {"src": static("icon.png"), "sizes": "512x512", "type": "image/png"},
        ],
    }
    return JsonResponse(facts, content_type="application/manifest+json")


@require_safe
@login_not_required
@cache_control(no_cache=True)
def no_signal(request: HttpRequest) -> HttpResponse:
    """Return the page that is shown where nothing is kept; it says nothing about anybody."""
    return render(request, "core/no_signal.html")
