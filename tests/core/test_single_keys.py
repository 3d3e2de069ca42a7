"""Every key that a template gives to a control can be changed. Outside check: WCAG 2.2, success criterion 2.1.4."""

import re
from pathlib import Path

from django.conf import settings

from core.single_keys import SINGLE_KEYS, key_lines
from inventory.catalog.schema.words import Severity


def test_every_key_of_the_templates_can_be_changed():
    templates = Path(settings.BASE_DIR, "templates").rglob("*.html")
    given = {key for path in templates for key in re.findall(r'data-key="([^"{\d])"', path.read_text(encoding="utf-8"))}
    given |= {severity[0].upper() for severity in Severity}
    assert given == set(SINGLE_KEYS)


def test_each_key_says_what_it_presses():
    assert dict(key_lines())["N"] == "Something is wrong, No"
