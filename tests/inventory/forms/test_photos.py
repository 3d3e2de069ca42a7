from __future__ import annotations

from django.core.files.uploadedfile import SimpleUploadedFile

from inventory.forms.photos import PhotoForm


def test_a_photo_is_needed_and_may_not_be_empty():
    assert PhotoForm({}, {}).errors["photo"] == ["Choose a photo first."]
    empty = PhotoForm({}, {"photo": SimpleUploadedFile("a.jpg", b"")})
    assert empty.errors["photo"] == ["The photo is empty. Choose it again."]
    assert PhotoForm({"caption": "The bell"}, {"photo": SimpleUploadedFile("a.jpg", b"x")}).is_valid()
    assert not PhotoForm({"caption": "x" * 201}, {"photo": SimpleUploadedFile("a.jpg", b"x")}).is_valid()
