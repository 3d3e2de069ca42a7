"""Every address a template names is there: `{% url … as … %}` says nothing when it is not."""

from __future__ import annotations

import re
from pathlib import Path

from django.conf import settings
from django.urls import get_resolver

from tests.test_docs import addresses

TEMPLATES = Path(settings.BASE_DIR) / "templates"


def test_every_address_named_in_a_template_is_there():
    real = {name for name, _route in addresses(get_resolver())}
    named = {
        f"{path.relative_to(TEMPLATES)}: {name}"
        for path in TEMPLATES.rglob("*.*")
        for name in re.findall(r"""\{% url ["']([\w:-]+)["']""", path.read_text(encoding="utf-8"))
        if name not in real
    }
    assert named == set()
