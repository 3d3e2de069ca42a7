"""The page of the look has every component, and nobody sees it outside debug."""

from __future__ import annotations

import importlib.util
from types import ModuleType

import pytest
from django.conf import settings as of_the_project

from desk.views.look import OF_THE_BASE, SAMPLES


def read_again() -> ModuleType:
    """Return config/urls.py as it reads under the settings of now."""
    spec = importlib.util.spec_from_file_location("urls_now", of_the_project.BASE_DIR / "config" / "urls.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def in_debug(settings):
    settings.DEBUG = True
    settings.ROOT_URLCONF = read_again()


@pytest.mark.page
def test_every_component_is_on_the_page(client, db, in_debug):
    page = client.get("/look/")
    assert page.status_code == 200
    html = page.content.decode()
    assert [name for name in SAMPLES.keys() - OF_THE_BASE if f'aria-label="{name}"' not in html] == []


@pytest.mark.page
def test_without_debug_there_is_no_such_page(client, db, settings):
    settings.ROOT_URLCONF = read_again()
    assert client.get("/look/").status_code == 404
