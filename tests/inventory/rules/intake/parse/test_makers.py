"""Maker and model in one cell."""

from __future__ import annotations

import pytest

from inventory.rules.intake.parse.makers import part_maker_model

KNOWN = {"plainbrassworks": "Plain Brass Works", "valley": "Valley"}


@pytest.mark.parametrize(
    ("cell", "maker", "model"),
    [
        ("Plain / TR-1", "Plain", "TR-1"),
        ("Plain/TR-1", "Plain", "TR-1"),
        ("Plain - TR-1", "Plain", "TR-1"),
        ("Plain, TR-1", "Plain", "TR-1"),
        ("PLAIN BRASS WORKS TR 1", "Plain Brass Works", "TR 1"),  # a maker of the register, as it is written there
        ("Valley / Student Line", "Valley", "Student Line"),
        ("valley", "Valley", ""),
        ("Hill Side 200S", "Hill Side", "200S"),
        ("TR-1", "", "TR-1"),
        ("F/Bb double", "", "F/Bb double"),
        ("n/a", "", ""),
        ("", "", ""),
    ],
)
def test_it_is_parted_by_a_known_maker_a_sign_or_a_figure(cell, maker, model):
    assert part_maker_model(cell, makers=KNOWN) == (maker, model)
