"""Quantities as they are said at a counter."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.utils.translation import override

from repairs.rules.quantities import many, quantity_words, stock_words, use_words


@pytest.mark.parametrize(
    ("quantity", "unit", "name", "words"),
    [
        (40, "tube", "slide grease", "40 tubes of slide grease"),
        (1, "tube", "slide grease", "1 tube of slide grease"),
        (0, "bottle", "valve oil", "0 bottles of valve oil"),
        (-2, "bottle", "key oil", "−2 bottles of key oil"),
        (2, "pack of 10", "water-key corks", "2 packs of 10 water-key corks"),
        (3, "each", "pad", "3 pads"),
        (1, "each", "pad", "1 pad"),
        (2, "each", "piston, matched", "2 pistons, matched"),
        (2, "each", "tube or branch", "2 tube or branches"),
        (2, "set", "clarinet pad set", "2 clarinet pad sets"),
        (2, "set", "valve guides", "2 sets of valve guides"),
        (1200, "", "screw", "1,200 screws"),
        ("2.500", "sheet", "sheet cork", "2.5 sheets of sheet cork"),
    ],
)
def test_so_many_of_a_thing(quantity, unit, name, words):
    assert quantity_words(Decimal(quantity), unit=unit, name=name) == words


@pytest.mark.parametrize(("unit", "words"), [("tube", "40 tubes"), ("pack of 10", "40 packs of 10"), ("each", "40")])
def test_without_a_name_the_unit_is_said_alone(unit, words):
    assert quantity_words(Decimal(40), unit=unit) == words


@pytest.mark.parametrize(
    ("quantity", "unit", "name", "words"),
    [
        ("0.04", "bottle", "key oil", "a little key oil"),
        ("0.27", "bottle", "wood glue", "a quarter of a bottle of wood glue"),
        ("0.33", "bottle", "white vinegar", "a third of a bottle of white vinegar"),
        ("0.5", "can", "penetrating oil", "half a can of penetrating oil"),
        ("0.67", "bottle", "valve oil", "two thirds of a bottle of valve oil"),
        ("0.8", "bottle", "valve oil", "three quarters of a bottle of valve oil"),
        ("0.95", "bottle", "valve oil", "nearly all of a bottle of valve oil"),
        ("0.04", "pack of 10", "water-key corks", "1 of the water-key corks"),
        ("0.5", "each", "small spring", "1 small spring, not each time"),
        ("0.57", "set", "rotor bumper cork", "half a set of rotor bumper cork"),
        ("0.04", "tube", "", "a little"),
        ("0.3", "can", "", "a third of a can"),
        ("0.04", "pack of 10", "", "1 of a pack"),
        ("2", "tube", "", "2 tubes"),
        ("1", "each", "pad", "1 pad"),
    ],
)
def test_what_a_step_takes(quantity, unit, name, words):
    assert use_words(Decimal(quantity), unit=unit, name=name) == words


def test_plurals():
    assert [many(word) for word in ("tube", "branch", "box", "corks")] == ["tubes", "branches", "boxes", "corks"]


@pytest.mark.parametrize(
    ("quantity", "unit", "words"),
    [
        ("40", "tube", "40 tubes"),
        ("11.92", "bottle", "about 12 bottles"),
        ("58.66", "each", "about 59"),
        ("0.92", "can", "0.9 cans"),
        ("-0.500", "sheet", "−0.5 sheets"),
    ],
)
def test_what_lies_there_is_told_as_one_sees_it(quantity, unit, words):
    assert stock_words(Decimal(quantity), unit=unit) == words


@pytest.mark.parametrize(
    ("unit", "name", "words"),
    [
        ("pieza", "resorte", "1 pieza de resorte, no siempre"),
        ("paquete de 10", "corchos", "1 de corchos"),
        ("botella", "aceite", "un poco de aceite"),
    ],
)
def test_what_nobody_halves_is_not_halved_in_another_language(unit, name, words):
    with override("es-mx"):
        assert use_words(Decimal("0.1"), unit=unit, name=name) == words
