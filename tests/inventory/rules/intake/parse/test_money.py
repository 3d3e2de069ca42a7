"""Amounts and shares as people write them."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rules.intake.parse.money import parse_money, parse_share
from inventory.rules.intake.parse.reading import UnreadableError

AMOUNTS = st.decimals(min_value=0, max_value=9_999_999, places=2)


@pytest.mark.parametrize(
    ("text", "amount"),
    [
        ("$1,234.50", "1234.50"),
        ("1.234,50", "1234.50"),
        ("1 234,50", "1234.50"),
        ("1'234.50", "1234.50"),
        ("1234.5", "1234.50"),
        ("1,234", "1234.00"),
        ("1,50", "1.50"),
        ("(200)", "-200.00"),
        ("$(200)", "-200.00"),
        ("-20", "-20.00"),
        ("500 USD", "500.00"),
        ("$ 500 each", "500.00"),
        ("~500", "500.00"),
        ("1234.567", "1234.57"),
        ("0.125", "0.13"),
        (".50", "0.50"),
        ("1.234.567", "1234567.00"),
        ("512.-", "512.00"),
        ("$512,--", "512.00"),
    ],
)
def test_amounts_are_read_in_every_form(text, amount):
    assert parse_money(text).value == Decimal(amount)


@pytest.mark.parametrize("text", ["", "n/a", "-", "?", "$", "$-", "unknown"])
def test_words_for_nothing_give_no_amount(text):
    assert parse_money(text).value is None


@pytest.mark.parametrize("text", ["free", "Gift", "DONATED", "no charge"])
def test_a_gift_costs_nothing_and_is_noted(text):
    reading = parse_money(text)
    assert reading.value == 0
    assert text in reading.note


@pytest.mark.parametrize(
    "cell", ["abc", "€500", "1,23,456", "1.234", "99999999", "1e5", "$1.2k", "1-2", date(2019, 8, 1)]
)
def test_what_is_no_clear_amount_is_refused(cell):
    with pytest.raises(UnreadableError):
        parse_money(cell)


def test_one_point_and_three_digits_may_mean_two_things_and_is_asked_back():
    with pytest.raises(UnreadableError, match=r"may be 1,234 dollars or 1\.23; write which"):
        parse_money("1.234")


@given(AMOUNTS)
def test_us_amounts_read_back(amount):
    for form in (f"${amount:,.2f}", f"{amount:.2f}", f"{amount:,.2f} USD", f"$ {amount:,.2f} "):
        assert parse_money(form).value == amount


@given(AMOUNTS)
def test_amounts_with_a_decimal_comma_read_back(amount):
    written = f"{amount:,.2f}".translate(str.maketrans(",.", ".,"))
    assert parse_money(written).value == amount


@given(AMOUNTS.filter(bool))
def test_parentheses_and_minus_mean_the_same(amount):
    assert parse_money(f"({amount:,.2f})").value == parse_money(f"-{amount:.2f}").value == -amount


@given(st.text(max_size=20))
def test_any_text_gives_an_amount_or_a_refusal(text):
    try:
        reading = parse_money(text)
    except UnreadableError:
        return
    assert reading.value is None or reading.value == round(reading.value, 2)


@pytest.mark.parametrize(
    ("text", "share"),
    [("80%", 80), ("80", 80), ("0.8", 80), ("1", 100), ("100", 100), ("0", 0), ("12.5 percent", Decimal("12.5"))],
)
def test_shares_are_read_in_percent(text, share):
    assert parse_share(text).value == share


def test_a_fraction_taken_for_percent_is_noted():
    assert parse_share("0.8").note == "0.8 is read as 80 percent"


@pytest.mark.parametrize("cell", ["110", "half", "-5", date(2019, 8, 1)])
def test_what_is_no_share_is_refused(cell):
    with pytest.raises(UnreadableError):
        parse_share(cell)


def test_ten_million_dollars_and_all_of_it_are_the_most():
    assert parse_money("10000000").value == 10_000_000
    assert parse_share("100").value == 100
    with pytest.raises(UnreadableError, match="more than ten million dollars"):
        parse_money("10000000.01")
    with pytest.raises(UnreadableError, match="more than 100 percent"):
        parse_share("100.5%")
