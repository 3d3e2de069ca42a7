"""Typed values out of untyped entries."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from inventory.catalog.load.fields import Fields
from inventory.catalog.schema import Severity


def make_fields(**raw: Any) -> Fields:
    return Fields(raw, "f.yaml", "thing", [])


def test_values_that_fit_are_taken_and_nothing_is_noted():
    fields = make_fields(name="a", on=True, price=0.1, span=[1, 2], minutes=[1, 2, 3], list=["x"], severity="light")
    assert fields.text("name") == "a"
    assert fields.flag("on", default=False) is True
    assert fields.number("price") == Decimal("0.1")
    assert fields.span("span") == (Decimal(1), Decimal(2))
    assert fields.minutes("minutes") == (1, 2, 3)
    assert fields.texts("list") == ("x",)
    assert fields.choice("severity", Severity) is Severity.LIGHT
    fields.close()
    assert fields.problems == []


@pytest.mark.parametrize(
    ("read", "raw", "reason"),
    [
        (lambda fields: fields.text("x"), 3, "expected text"),
        (lambda fields: fields.texts("x"), "abc", "expected a list of texts"),
        (lambda fields: fields.flag("x", default=False), "yes", "expected true or false"),
        (lambda fields: fields.number("x"), -1, "expected a number that is not negative"),
        (lambda fields: fields.number("x"), True, "expected a number that is not negative"),
        (lambda fields: fields.share("x"), 2, "expected a share between 0 and 1"),
        (lambda fields: fields.whole("x", low=1, high=3), 4, "expected a whole number from 1 to 3"),
        (lambda fields: fields.span("x"), [2, 1], "low is above high"),
        (lambda fields: fields.span("x"), [1], "expected [low, high]"),
        (lambda fields: fields.minutes("x"), [1, 2], "expected minutes as [low, likely, high]"),
        (lambda fields: fields.choice("x", Severity), "bad", "expected one of light, moderate, severe"),
        (lambda fields: fields.choices("x", Severity, ()), ["bad"], "expected some of light, moderate, severe"),
        (lambda fields: fields.inner("x"), 1, "expected a mapping"),
        (lambda fields: list(fields.each("x")), [], "expected a mapping"),
    ],
)
def test_a_value_that_does_not_fit_is_noted_by_its_key(read, raw, reason):
    fields = make_fields(x=raw)
    read(fields)
    assert [(one.key, one.reason) for one in fields.problems] == [("thing.x", reason)]


def test_a_missing_value_is_noted_once():
    fields = make_fields()
    fields.text("x")
    assert [(one.key, one.reason) for one in fields.problems] == [("thing.x", "missing")]


def test_keys_nobody_asked_for_are_noted_on_closing():
    fields = make_fields(name="a", nmae="b")
    fields.text("name")
    fields.close()
    assert [(one.key, one.reason) for one in fields.problems] == [("thing.nmae", "unknown key")]
