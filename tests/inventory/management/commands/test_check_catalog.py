"""The command that tells an administrator whether the trade data is sound."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import CommandError, call_command


def test_a_sound_catalog_is_counted():
    out = StringIO()
    call_command("check_catalog", stdout=out)
    assert "kinds" in out.getvalue()
    assert "The catalog is sound." in out.getvalue()


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
