"""From what was scanned or typed to the instrument."""

from __future__ import annotations

import pytest

from desk.selectors.finding_instruments import instruments_matching, tag_for, token_in
from inventory.models import Tag
from inventory.services.registering import revoke_tag
from tests.factories import NOW, make_instrument

TOKEN = "23456789ABCDEFGH"


@pytest.mark.parametrize(
    "text",
    [
        TOKEN,
        f"HTTPS://HORNS.EXAMPLE/T/{TOKEN}",
        f"https://horns.example/t/{TOKEN.lower()}",
        f"  {TOKEN}\n",
        f"/T/{TOKEN}/",
    ],
)
def test_a_token_is_read_from_an_address_or_alone(text):
    assert token_in(text) == TOKEN


@pytest.mark.parametrize(
    "text", ["", "TD-0001", TOKEN[:-1], f"{TOKEN}2", f"{TOKEN[:-1]}O", f"https://elsewhere.example/x/{TOKEN}?"]
)
def test_anything_else_is_no_token(text):
    assert token_in(text) == ""


def found(user, text):
    return [row.asset_number for row in instruments_matching(user, text)]


@pytest.fixture
def instruments(school):
    return [
        make_instrument(school=school, asset_number=number, serial=serial)
        for number, serial in (("TD-0007", "A100"), ("TD-0107", "B200"), ("TD-1007", "C300"))
    ]


def test_the_whole_number_finds_one_whatever_its_case(instruments, director):
    assert found(director, "td-0107") == ["TD-0107"]


def test_a_bare_number_finds_the_instrument_whose_number_it_is(instruments, director):
    assert found(director, "7") == ["TD-0007"]


def test_a_number_that_only_ends_others_offers_them(instruments, director):
    assert found(director, "07") == ["TD-0007"]
    assert set(found(director, "007")) == {"TD-0007"}


def test_a_serial_finds_its_instrument(instruments, director):
    assert found(director, "b200") == ["TD-0107"]


def test_a_tag_finds_its_instrument_and_a_revoked_one_does_not(instruments, director):
    tag = Tag.objects.live().get(instrument=instruments[0])
    assert found(director, f"HTTPS://HORNS.EXAMPLE/T/{tag.token}") == ["TD-0007"]
    revoke_tag(tag=tag, because="worn", actor=director, at=NOW)
    assert found(director, tag.token) == []


@pytest.mark.parametrize("text", ["TD-0107", "0107", "B200", "td-"])
def test_nobody_finds_another_schools_instrument(instruments, stranger, text):
    assert found(stranger, text) == []


def test_a_strangers_tag_finds_nothing(instruments, stranger):
    assert found(stranger, Tag.objects.live().get(instrument=instruments[0]).token) == []


@pytest.mark.parametrize("text", ["", "   ", "%", "_", "' OR 1=1 --"])
def test_nothing_and_signs_find_nothing(instruments, director, text):
    assert found(director, text) == []


def test_no_more_than_asked_for(school, director):
    for number in range(12):
        make_instrument(school=school, asset_number=f"TD-{number:04d}")
    assert len(instruments_matching(director, "TD-", limit=8)) == 8


def test_a_tag_is_found_live_or_revoked_and_in_small_letters(instruments, director):
    tag = Tag.objects.live().get(instrument=instruments[0])
    assert tag_for(tag.token.lower()) == tag
    revoke_tag(tag=tag, because="worn", actor=director, at=NOW)
    assert tag_for(tag.token) == tag
    assert tag_for("ZZZZZZZZZZZZZZZZ") is None


@pytest.mark.parametrize("token", ["\x00", "", "' OR 1=1", "x" * 500], ids=["null", "none", "quote", "long"])
def test_what_cannot_be_a_token_is_no_tag_and_asks_no_database(token):
    assert tag_for(token) is None
