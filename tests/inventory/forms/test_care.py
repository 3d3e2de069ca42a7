from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from inventory.catalog.load import catalog
from inventory.forms.care import AnswerForm, HygieneForm, PhotoForm, WhereaboutsForm
from tests.pictures import jpeg


@pytest.mark.parametrize("kind", catalog().kinds.values(), ids=lambda kind: kind.code)
def test_each_thing_that_goes_into_a_mouth_has_its_tick(kind):
    things = [code for code, _ in kind.between_players()]
    choices = HygieneForm(kind=kind, owed=frozenset()).fields["done"].choices
    assert [code for code, _ in choices] == (things or ["all"])
    assert all(words for _, words in choices)


def test_every_tick_is_needed():
    kind = catalog().kinds["clarinet_bb"]
    things = [code for code, _ in kind.between_players()]
    given = {"product": "soap", "wet_minutes": 0}

    def is_valid(**typed: object) -> bool:
        return HygieneForm(given | typed, kind=kind, owed=frozenset()).is_valid()

    assert is_valid(done=things)
    assert not is_valid(done=things[1:])
    assert not is_valid()


@pytest.mark.parametrize(("to", "is_valid"), [("not_found", True), ("in_store", True), ("gone", False), ("", False)])
def test_only_lost_and_found_are_said_here(to, is_valid):
    assert WhereaboutsForm({"to": to}).is_valid() is is_valid


def test_an_answer_needs_words_and_fits_its_column():
    assert not AnswerForm({"answer": "   "}).is_valid()
    assert not AnswerForm({"answer": "x" * 401}).is_valid()
    assert AnswerForm({"answer": "Oiled."}).is_valid()


def sent(content: bytes) -> dict[str, SimpleUploadedFile]:
    return {"photo": SimpleUploadedFile("a.jpg", content)}


def test_a_photo_is_needed_and_may_not_be_empty_or_something_else():
    assert PhotoForm({}, {}).errors["photo"] == ["Choose a photo first."]
    assert PhotoForm({}, sent(b"")).errors["photo"] == ["The photo is empty. Choose it again."]
    assert "not a picture" in PhotoForm({}, sent(b"x")).errors["photo"][0]
    assert PhotoForm({"caption": "The bell"}, sent(jpeg())).is_valid()
    assert not PhotoForm({"caption": "x" * 201}, sent(jpeg())).is_valid()
