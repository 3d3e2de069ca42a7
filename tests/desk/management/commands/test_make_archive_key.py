"""``manage.py make_archive_key``: prints the public half, once."""

from __future__ import annotations

import pytest
from django.core.management import CommandError, call_command

from core.archives import public_text, read_key


def test_a_key_is_made_once(capsys, settings, tmp_path):
    settings.ARCHIVE_KEY_FILE = tmp_path / "archive.key"
    call_command("make_archive_key")
    printed = public_text(read_key(settings.ARCHIVE_KEY_FILE).public_key())
    assert capsys.readouterr().out == f"{settings.ARCHIVE_KEY_FILE}\npublic key: {printed}\n"
    with pytest.raises(CommandError) as ended:
        call_command("make_archive_key")
    assert ended.value.returncode == 2
    call_command("make_archive_key", out=tmp_path / "other.key")
    assert public_text(read_key(tmp_path / "other.key").public_key()) != printed
