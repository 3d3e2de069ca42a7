from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.catalog.load import catalog
from repairs.forms.steps import StepForm
from repairs.pages.job import PartUse
from repairs.services.jobs import FreeUse
from tests.factories import new_nonce
from tests.repairs.money_makers import make_item

CORK = PartUse(code="cork", name="cork", unit="sheet", quantity=Decimal("0.5"), amount=Decimal("3.00"))
OIL = PartUse(code="oil", name="oil", unit="can", quantity=Decimal(1), amount=Decimal("8.00"))


def form(**data):
    sent = {"step": "x:y", "nonce": str(new_nonce()), "outcome": "done"} | data
    made = StepForm(sent, parts=(CORK, OIL))
    made.is_valid()
    return made


def test_what_was_used_is_priced_by_the_quantity():
    used = form(use_cork="1", use_oil="0").parts_used()
    assert used == [{"code": "cork", "quantity": "1", "amount": "6.00"}]


def test_nothing_asked_leaves_the_usual_to_the_service():
    assert form().parts_used() is None


def test_a_part_the_page_did_not_ask_for_is_not_counted():
    assert form(use_cork="0.5").parts_used() == [{"code": "cork", "quantity": "0.5", "amount": "3.00"}]


@pytest.fixture
def drawer(db):
    return [make_item(name="Slide stop", fits_maker="Plain Brass Works", place="Drawer B", quantity="3")]


def with_part(drawer, **data):
    made = StepForm({"step": "x:y", "nonce": str(new_nonce()), "outcome": "done"} | data, free_parts=drawer)
    return made, made.is_valid()


def test_a_part_from_the_drawer_is_offered_with_what_it_fits_and_how_many_are_left(drawer):
    words = dict(StepForm(free_parts=drawer).fields["free_part"].choices)[str(drawer[0].pk)]
    assert words == "Slide stop, fits Plain Brass Works (3 left, Drawer B)"
    assert "free_part" not in StepForm().fields


def test_one_of_it_or_as_many_as_are_typed(drawer):
    made, _ = with_part(drawer, free_part=str(drawer[0].pk), free_count="2")
    assert made.free_use() == FreeUse(item=drawer[0], quantity=Decimal(2))
    assert with_part(drawer, free_part="", free_count="1")[0].free_use() is None


@pytest.mark.parametrize("count", ["", "0", "-1", "many", "1000"])
def test_a_part_is_used_in_some_number(drawer, count):
    assert not with_part(drawer, free_part=str(drawer[0].pk), free_count=count)[1]


def test_a_part_of_another_bench_is_no_choice(drawer):
    made, is_valid = with_part(drawer, free_part="0", free_count="1")
    assert not is_valid
    assert "no longer on this bench" in made.sentence


@pytest.mark.parametrize(
    "wrong",
    [
        {"nonce": "x"},
        {"outcome": "perfect"},
        {"minutes": "-3"},
        {"minutes": "9999"},
        {"use_cork": "lots"},
        {"step": ""},
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(wrong):
    made = form(**wrong)
    assert not made.is_valid()
    assert made.sentence


CLEANERS = tuple(catalog().cleaners.values())


def washed(**data):
    made = StepForm({"step": "x:y", "nonce": str(new_nonce()), "outcome": "done"} | data, cleaners=CLEANERS)
    return made.attempt() if made.is_valid() else made.sentence


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ({"product": "peroxide"}, ("peroxide", 10)),
        ({"product": "peroxide", "wet_minutes": "15"}, ("peroxide", 15)),
        ({"product": "soap"}, ("soap", 0)),
        ({"product": "other", "wet_minutes": "4"}, ("other", 4)),
    ],
)
def test_a_wash_says_with_what_and_for_at_least_how_long(typed, kept):
    attempt = washed(**typed)
    assert (attempt["product"], attempt["wet_minutes"]) == kept


@pytest.mark.parametrize(
    ("typed", "asked"),
    [
        ({}, "Say what it was cleaned with."),
        ({"product": "peroxide", "wet_minutes": "9"}, "It has to stay wet for at least 10 minutes."),
        ({"product": "other"}, "Enter the minutes that its label asks for."),
    ],
)
def test_a_wash_that_does_not_say_it_is_asked(typed, asked):
    assert washed(**typed) == asked


def test_a_wash_that_was_skipped_says_nothing_and_no_other_step_is_asked():
    assert "product" not in washed(outcome="skipped")
    assert "product" not in form().attempt()
