from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from core.photos import clean_photo
from inventory.models import Photo
from inventory.services.care import keep_photo
from tests.factories import NOW, make_instrument
from tests.pictures import jpeg


@pytest.fixture
def photo(school, tech):
    return keep_photo(instrument=make_instrument(school=school), photo=clean_photo(jpeg()), actor=tech, at=NOW)


@pytest.mark.parametrize("size", ["full", "small"])
def test_a_picture_is_shown_to_who_may_see_its_instrument(client, auditor, photo, size):
    client.force_login(auditor)
    answer = client.get(reverse("inventory:photo", args=[photo.pk, size]))
    assert answer.headers["Content-Type"] == "image/jpeg"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert "public" not in answer.headers["Cache-Control"]
    assert answer.content.startswith(b"\xff\xd8\xff")


def test_another_school_finds_no_picture(client, stranger, photo):
    client.force_login(stranger)
    assert client.get(reverse("inventory:photo", args=[photo.pk, "full"])).status_code == 404


def test_other_sizes_and_lost_files_are_not_found(client, tech, photo):
    client.force_login(tech)
    assert client.get(f"/instruments/photos/{photo.pk}/huge.jpg").status_code == 404
    photo.image.storage.delete(photo.image.name)
    assert client.get(reverse("inventory:photo", args=[photo.pk, "full"])).status_code == 404


def test_a_photo_is_added_and_what_is_none_is_refused(client, tech, school):
    client.force_login(tech)
    address = reverse("inventory:photos", args=[make_instrument(school=school).asset_number])
    good = {"photo": SimpleUploadedFile("x.jpg", jpeg(color="teal")), "caption": "Serial <number>"}
    assert client.post(address, good).status_code == 302
    assert "Serial &lt;number&gt;" in client.get(address).text
    for content in (b"%PDF-1.4 %%EOF", b"", b"plain words"):
        assert client.post(address, {"photo": SimpleUploadedFile("x.jpg", content)}).status_code == 422
    assert Photo.objects.count() == 1
