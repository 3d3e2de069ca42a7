"""What happened to a stock item, in words."""

from __future__ import annotations

from decimal import Decimal

import pytest

from repairs.models import StockItem
from repairs.pages.stock import SHOWN, lacks_words, moves_of
from repairs.selectors.stock import known_codes
from repairs.services.stock import count_stock, move_stock, receive_stock, retire_stock_item, reverse_stock_move
from tests.factories import NOW, make_bench, make_user, new_nonce
from tests.repairs.money_makers import make_item

pytestmark = pytest.mark.django_db
D = Decimal


def test_every_move_is_said_with_what_was_left_and_what_took_it_back():
    item = make_item(quantity="6")
    said = {"actor": make_user(), "at": NOW}
    reverse_stock_move(move=item.moves.get(why="received"), because="Slip", nonce=new_nonce(), **said)
    count_stock(item=item, quantity=D("4.5"), nonce=new_nonce(), **said)
    count_stock(item=item, quantity=D("4.5"), nonce=new_nonce(), **said)
    receive_stock(item=item, quantity=D("2.001"), nonce=new_nonce(), **said)
    there = make_bench(school=item.bench.school, name="Annex")
    count_stock(item=item, quantity=D(2), nonce=new_nonce(), **said)
    move_stock(item=item, to=there, quantity=D(1), nonce=new_nonce(), **said)
    lines = moves_of(StockItem.objects.get(pk=item.pk))
    assert [(line["what"], line["left"], line["may_reverse"]) for line in reversed(lines)] == [
        ("Received 6 bottles", "6 bottles", False),
        ("Reversed: Received 6 bottles", "0 bottles", False),
        ("Counted 4.5 bottles, +4.5 bottles", "4.5 bottles", False),
        ("Counted 4.5 bottles, as on record", "4.5 bottles", False),
        ("Received 2 bottles", "6.5 bottles", False),
        ("Counted 2 bottles, −4.5 bottles", "2 bottles", True),
        ("Moved 1 bottle to Annex", "1 bottle", False),
    ]
    assert moves_of(StockItem.objects.get(bench=there))[0]["what"] == "Moved 1 bottle here from Bench"
    assert lines[-1]["reversal"].note == "Slip"


def test_of_a_retired_item_nothing_is_reversed_and_only_the_latest_are_shown():
    item, said = make_item(), {"actor": make_user(), "at": NOW}
    for _ in range(SHOWN + 2):
        count_stock(item=item, quantity=D(0), nonce=new_nonce(), **said)
    retire_stock_item(item=item, **said)
    lines = moves_of(StockItem.objects.get(pk=item.pk))
    assert len(lines) == SHOWN
    assert not any(line["may_reverse"] for line in lines)


def test_what_is_lacking_is_said_as_a_step_takes_it():
    things = known_codes()
    lacks = [(things["valve_oil"], D("0.08")), (things["pad"], D(2))]
    assert lacks_words(lacks) == "a little valve oil, 2 pads"
    assert lacks_words([]) == ""
