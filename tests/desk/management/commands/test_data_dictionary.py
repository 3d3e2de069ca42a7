"""``manage.py data_dictionary``, and the page that it wrote."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command


def test_the_page_is_what_the_models_say_now(tmp_path):
    path = tmp_path / "page.md"
    call_command("data_dictionary", out=path)
    page = settings.BASE_DIR / "docs" / "data-dictionary.md"
    assert page.read_text("utf-8") == path.read_text("utf-8"), "manage.py data_dictionary --out docs/data-dictionary.md"


def test_it_is_printed_and_given_as_json(capsys):
    call_command("data_dictionary")
    assert capsys.readouterr().out.startswith("# Data dictionary\n")
    call_command("data_dictionary", json=True)
    told = json.loads(capsys.readouterr().out)
    assert told["loans.Loan"][0] | {"seen_by": ""} == {
        "name": "id", "type": "whole number", "meaning": "Key of the row", "unit": "", "seen_by": "",
    }  # fmt: skip


def test_a_file_that_cannot_be_written_ends_with_two(tmp_path):
    with pytest.raises(CommandError) as ended:
        call_command("data_dictionary", out=Path(tmp_path))
    assert ended.value.returncode == 2
