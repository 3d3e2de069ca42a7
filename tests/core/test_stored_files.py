"""Files that were changed, swapped or lost behind the program's back."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.conf import settings

from core import stored_files
from core.photos import clean_photo
from core.stored_files import file_differences
from inventory.models import Photo
from inventory.services.care import keep_photo
from loans.models import Agreement
from loans.services import file_agreement_pdf
from tests.factories import NOW, make_instrument, make_user
from tests.loans.makers import make_agreement
from tests.pictures import jpeg

pytestmark = pytest.mark.django_db


def found() -> list[str]:
    return list(file_differences())


def make_photo(color: str = "peru") -> Photo:
    return keep_photo(instrument=make_instrument(), photo=clean_photo(jpeg(color=color)), actor=make_user(), at=NOW)


@pytest.fixture
def media(tmp_path, settings):
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


def test_a_photo_that_is_as_it_was_is_read_in_pieces_and_shared_ones_once(media, monkeypatch):
    make_photo()
    make_photo()
    monkeypatch.setattr(stored_files, "PIECE", 64)
    seen = []
    read = stored_files._read
    monkeypatch.setattr(stored_files, "_read", lambda *some, **rest: (seen.append(some[1]), read(*some, **rest))[1])
    assert found() == []
    assert len(seen) == 2  # the picture and its small one, of both rows


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (Path.unlink, "is missing"),
        (lambda path: path.write_bytes(path.read_bytes() + b"x"), "is not the one that was kept"),
        (lambda path: path.write_bytes(b""), "is not the one that was kept"),
        (lambda path: (path.unlink(), path.mkdir()), "cannot be read"),
    ],
    ids=["lost", "longer", "emptied", "a folder"],
)
def test_a_photo_that_was_spoiled_is_named(media, spoil, said):
    photo = make_photo()
    spoil(Path(photo.image.path))
    assert found() == [f"photo {photo.pk}: image: the file {photo.image.name} {said}"]


def test_a_small_picture_and_a_signature_are_compared_too(media):
    photo, agreement = make_photo(), make_agreement()
    small, signed = Path(photo.small.path), Path(agreement.guardian_signature.path)
    small.write_bytes(b"another")
    signed.write_bytes(Path(agreement.student_signature.path).read_bytes() + b"x")
    changed = "is not the one that was kept"
    assert found() == [
        f"photo {photo.pk}: small: the file {photo.small.name} {changed}",
        f"agreement {agreement.pk}: guardian signature: the file {agreement.guardian_signature.name} {changed}",
    ]
    small.unlink()
    signed.unlink()
    assert [line.rpartition(" ")[2] for line in found()] == ["missing", "missing"]


def test_a_file_of_which_no_hash_is_kept_is_named(media):
    photo = make_photo()
    Photo.objects.update(small_sha256="")
    assert found() == [
        f"photo {photo.pk}: small: no hash is kept of the file {photo.small.name}, so it cannot be compared"
    ]


def test_a_row_that_was_led_to_another_file_is_named(media):
    first, second = make_photo(), make_photo("teal")
    Photo.objects.filter(pk=first.pk).update(image=second.image.name)
    assert found() == [f"photo {first.pk}: image: the file {second.image.name} is not the one that was kept"]
    Photo.objects.filter(pk=first.pk).update(image="../../../etc/passwd")
    assert found() == [f"photo {first.pk}: image: the file ../../../etc/passwd cannot be read"]


def test_a_paper_and_its_signatures_are_held_to_what_was_kept(media):
    paper = file_agreement_pdf(agreement=make_agreement(), data=b"%PDF-1.7 as signed", actor=make_user(), at=NOW)
    assert found() == []
    Path(paper.pdf.path).write_bytes(b"%PDF-1.7 as it never was")
    Path(paper.student_signature.path).unlink()
    name = Agreement._meta.verbose_name
    assert found() == [
        f"{name} {paper.pk}: pdf: the file {paper.pdf.name} is not the one that was kept",
        f"{name} {paper.pk}: student signature: the file {paper.student_signature.name} is missing",
    ]
    assert media == settings.MEDIA_ROOT
