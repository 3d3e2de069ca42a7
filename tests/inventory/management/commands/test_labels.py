from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from inventory.models import Tag
from tests.factories import make_instrument

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _address(settings):
    settings.PUBLIC_ADDRESS = "https://horns.elm.example"


def test_a_school_is_printed_and_what_had_no_tag_gets_one(school, tmp_path):
    make_instrument(school=school)
    make_instrument(school=school, issue_tag_too=False)
    out, file = StringIO(), tmp_path / "labels.pdf"
    call_command("labels", school="elm", sheet="80up", out=file, start=3, stdout=out)
    assert file.read_bytes().startswith(b"%PDF-")
    assert out.getvalue().startswith("2 labels of Elm Street Middle")
    assert Tag.objects.filter(printed_at=None).count() == 0


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ({"school": "NOPE"}, "Known: ELM"),
        ({"sheet": "7up"}, "30up"),
        ({"start": 31}, "Position 31"),
        ({"start": 0}, "Position 0"),
        ({"kind": "kazoo"}, "no labels"),
    ],
    ids=["unknown school", "unknown sheet", "no such place", "before the first place", "nothing to print"],
)
def test_what_cannot_be_printed_ends_with_status_two(school, tmp_path, options, says):
    make_instrument(school=school, issue_tag_too=False)
    given = {"school": "ELM", "sheet": "30up", "out": tmp_path / "labels.pdf"} | options
    with pytest.raises(CommandError, match=says) as caught:
        call_command("labels", **given)
    assert caught.value.returncode == 2
    assert not given["out"].exists()


def test_without_a_public_address_no_tag_is_issued_either(school, tmp_path, settings):
    settings.PUBLIC_ADDRESS = ""
    make_instrument(school=school, issue_tag_too=False)
    with pytest.raises(CommandError, match="public address") as caught:
        call_command("labels", school="ELM", out=tmp_path / "labels.pdf")
    assert caught.value.returncode == 2
    assert not Tag.objects.exists()


def test_a_folder_that_is_not_there_is_told(school, tmp_path):
    make_instrument(school=school)
    with pytest.raises(CommandError, match="No such file") as caught:
        call_command("labels", school="ELM", out=tmp_path / "nowhere" / "labels.pdf")
    assert caught.value.returncode == 2
