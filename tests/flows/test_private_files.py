"""What a day leaves on the disk is readable by the account of the service alone."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.urls import reverse

from core.photos import clean_photo
from inventory.services.care import keep_photo
from tests.factories import NOW, make_ready_instrument
from tests.loans.makers import make_agreement
from tests.pictures import jpeg


@pytest.mark.django_db
def test_photo_signatures_paper_list_and_database_are_closed_to_others(client, director, school, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    keep_photo(instrument=make_ready_instrument(), photo=clean_photo(jpeg()), actor=director, at=NOW)
    make_agreement()
    client.force_login(director)
    rows = "Asset no,Kind\n" + "".join(f"MT-{number},trumpet\n" for number in range(1_000))
    client.post(
        reverse("inventory:import"), {"file": SimpleUploadedFile("list.csv", rows.encode()), "school": school.pk}
    )
    left = list(tmp_path.rglob("*"))
    assert {path.relative_to(tmp_path).parts[0] for path in left} >= {"imports", "photos", "signatures"}
    assert [path.name for path in left if path.lstat().st_mode & (stat.S_IRWXG | stat.S_IRWXO)] == []


@pytest.mark.sqlite
@pytest.mark.django_db
def test_the_database_and_its_side_files_are_closed_to_others():
    name = Path(connection.settings_dict["NAME"])
    files = list(name.parent.glob(f"{name.name}*"))
    assert len(files) >= 2  # the database and what is written ahead
    assert [path.name for path in files if path.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO)] == []
