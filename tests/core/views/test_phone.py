import json

import pytest
from django.contrib.staticfiles import finders
from django.templatetags.static import static
from django.urls import reverse
from PIL import Image

from core.views.phone import FIRST, HOME, OF_PACKAGES, file_names, worker_facts


def test_the_service_worker_may_answer_for_every_page(client):
    """It stands at the root: the scope of a worker is its own folder (Service Workers, W3C, "scope")."""
    answer = client.get("/service-worker.js")
    assert answer.headers["Content-Type"].startswith("text/javascript")
    assert answer.headers["Cache-Control"] == "no-cache"
    assert "worker-src 'self'" in answer.headers["Content-Security-Policy"]
    first, _, rest = answer.content.decode().partition("\n")
    assert json.loads(first.removeprefix("const HORNBOOK = ").removesuffix(";")) == worker_facts()
    assert "importScripts(...HORNBOOK.scripts)" in rest


def test_every_file_that_it_caches_is_there():
    assert [name for name in (*file_names(), *FIRST, *OF_PACKAGES) if finders.find(name) is None] == []
    assert reverse("desk:offline") == HOME


def test_the_manifest_says_what_a_phone_needs_to_install_it(client):
    """Web Application Manifest (W3C): a name, where it starts, how it is shown, an icon."""
    answer = client.get(reverse("core:manifest"))
    assert answer.headers["Content-Type"] == "application/manifest+json"
    facts = answer.json()
    assert facts["name"]
    assert facts["start_url"] == facts["scope"] == "/"
    assert facts["display"] == "standalone"
    drawn = facts["icons"][1]
    with Image.open(finders.find("icon.png")) as picture:
        assert drawn["sizes"] == "x".join(map(str, picture.size))
        assert picture.convert("RGB").getextrema() != ((255, 255),) * 3, "it is drawn"
    assert drawn["src"] == static("icon.png")


@pytest.mark.django_db
def test_the_page_without_a_signal_names_nobody(client, tech):
    client.force_login(tech, backend="core.access.RoleBackend")
    page = client.get(reverse("core:no-signal")).content.decode()
    assert "No signal" in page
    assert tech.username not in page
    assert "data-person" not in page
