"""Money, counted words, cents, and where one is."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from html import unescape

import pytest
from django.test import RequestFactory
from hypothesis import given
from hypothesis import strategies as st

from core.templatetags.look import cents, counted, day_near, figure, here, linked, money, money_to, once_key, reach


def test_a_key_is_another_each_time():
    assert once_key() != once_key()
    assert re.fullmatch(r'<input type="hidden" name="nonce" value="[0-9a-f-]{36}">', once_key())


@pytest.mark.parametrize(
    ("amount", "shown"),
    [
        (Decimal("1234.50"), "$1,234.50"),
        (Decimal(9), "$9"),
        (0, "$0"),
        (Decimal("-3.10"), "−$3.10"),
        (None, "—"),
        ("", "—"),
        ("unknown", "unknown"),
    ],
)
def test_money_is_written_as_people_write_it(amount, shown):
    assert money(amount) == shown


@pytest.mark.parametrize(
    ("low", "high", "shown"),
    [
        (4, Decimal("4.00"), "$4"),
        (Decimal("3.999"), Decimal("4.001"), "$4"),
        (4, 6, "$4 to $6"),
        (None, 6, "— to $6"),
        (None, None, "—"),
    ],
)
def test_a_span_of_money_is_said_once_where_both_ends_read_the_same(low, high, shown):
    assert money_to(low, high) == shown


@pytest.mark.parametrize(
    ("day", "shown"),
    [
        (date(2026, 11, 30), "Nov 30"),
        (date(2027, 9, 10), "Sep 10"),
        (date(2027, 11, 29), "Nov 29, 2027"),
        (date(2028, 5, 26), "May 26, 2028"),
        (date(2025, 6, 7), "Jun 7, 2025"),
    ],
)
def test_a_day_has_its_year_where_it_could_be_another_years(day, shown):
    assert day_near(day, date(2026, 11, 30)) == shown


@given(st.decimals(min_value=-(10**7), max_value=10**7, places=2))
def test_no_cent_is_lost_in_writing(amount):
    read = Decimal(money(amount).replace("$", "").replace(",", "").replace("−", "-"))
    assert read == amount


@pytest.mark.parametrize(
    ("amount", "shown"),
    [
        (Decimal("29.700"), "29.7"),
        (Decimal("0.150"), "0.15"),
        (Decimal(200), "200"),
        (Decimal("-1.500"), "−1.5"),
        (1200, "1,200"),
        (Decimal("-0.0001"), "0"),
        (None, ""),
    ],
)
def test_a_quantity_carries_no_idle_zeros(amount, shown):
    assert figure(amount) == shown


@pytest.mark.parametrize(
    ("words", "address"),
    [
        ("(555) 010-9231", "tel:5550109231"),
        ("+1 555 010 9231", "tel:+15550109231"),
        ("guardian@example.org", "mailto:guardian@example.org"),
        ("555 010-1188, ask for the brass bench", ""),
        ("by the aunt", ""),
        ("12", ""),
        ("", ""),
    ],
)
def test_a_number_is_called_and_an_address_written_to(words, address):
    assert reach(words) == address


def test_words_follow_their_number():
    assert counted(1, "finding") == "1 finding"
    assert counted(0, "finding") == "0 findings"
    assert counted(2, "loss,losses") == "2 losses"
    assert counted(1200, "row") == "1,200 rows"


@pytest.mark.parametrize(("value", "shown"), [(30.3, "+30"), (-12.6, "−13"), (0.2, "0"), (None, "")])
def test_cents_carry_their_sign(value, shown):
    assert cents(value) == shown


@pytest.mark.parametrize(
    ("path", "url", "whole", "mark"),
    [
        ("/loans/", "/loans/", False, "page"),
        ("/loans/7/", "/loans/", False, "true"),
        ("/loans/7/", "/loans/", True, ""),
        ("/loans/", "/", False, ""),
        ("/loansome/", "/loans/", False, ""),
        ("/loans/", "", False, ""),
    ],
)
def test_the_place_we_are_at_is_marked(path, url, whole, mark):
    assert here({"request": RequestFactory().get(path)}, url, whole=whole) == mark


def test_without_a_request_nothing_is_marked():
    assert here({}, "/loans/") == ""


@pytest.mark.parametrize(
    ("typed", "links"),
    [
        ("Dana Reyes, (555) 201-3344 or dana@brook.example", ["tel:5552013344", "mailto:dana@brook.example"]),
        ("+1 555 201 3344", ["tel:+15552013344"]),
        ("ask at the counter, suite 12", []),
        ("a <b>bold</b> claim", []),
        ("", []),
    ],
)
def test_phone_numbers_and_addresses_in_a_contact_are_links(typed, links):
    html = linked(typed)
    assert re.findall(r'href="([^"]+)"', html) == links
    assert unescape(re.sub(r"</?a[^>]*>", "", html)) == typed
