"""The command that tells an administrator whether the trade data is sound."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import CommandError, call_command


def test_a_sound_catalog_is_counted():
    out = StringIO()
    call_command("check_catalog", stdout=out)
    assert "kinds" in out.getvalue()
    assert "The catalog is valid." in out.getvalue()


def test_every_problem_is_printed_by_file_key_and_reason_and_ends_with_status_one(tmp_path, settings):
    (tmp_path / "tools.yaml").write_text("tools:\n  torch:\n    price: free\n    color: red\n", encoding="utf-8")
    settings.HORNBOOK_CATALOG_DIR = tmp_path
    errors = StringIO()
    with pytest.raises(CommandError, match="2 problems") as caught:
        call_command("check_catalog", stderr=errors)
    assert caught.value.returncode == 1
    assert errors.getvalue().splitlines() == [
        f"{tmp_path.name}/tools.yaml: tools.torch.color: unknown key",
        f"{tmp_path.name}/tools.yaml: tools.torch.price: expected a number that is not negative",
    ]


def test_problems_of_charts_are_printed_too(tmp_path, settings):
    (tmp_path / "charts").mkdir()
    (tmp_path / "charts" / "own.yaml").write_text("bugle: {like: trumpet, colour: red}\n", encoding="utf-8")
    (tmp_path / "tools.yaml").write_text("tools: {torch: {price: free}}\n", encoding="utf-8")
    settings.HORNBOOK_CATALOG_DIR = tmp_path
    errors = StringIO()
    with pytest.raises(CommandError, match="2 problems"):
        call_command("check_catalog", stderr=errors)
    assert errors.getvalue().splitlines() == [
        f"{tmp_path.name}/tools.yaml: tools.torch.price: expected a number that is not negative",
        f"{tmp_path.name}/charts/own.yaml: bugle.colour: unknown key",
    ]


def test_a_kind_without_its_chart_is_a_problem(tmp_path, settings):
    (tmp_path / "kinds.yaml").write_text("kinds: {cornet: {chart: trumpett}}\n", encoding="utf-8")
    settings.HORNBOOK_CATALOG_DIR = tmp_path
    errors = StringIO()
    with pytest.raises(CommandError, match="1 problem in"):
        call_command("check_catalog", stderr=errors)
    assert "kinds.cornet.chart: no chart called trumpett; did you mean trumpet?" in errors.getvalue()
