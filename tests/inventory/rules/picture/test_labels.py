"""Words find their place, or go below the picture."""

from __future__ import annotations

from dataclasses import replace
from math import hypot
from typing import Any

import pytest

from inventory.rules.picture.labels import labelled, width_of, wrapped
from inventory.rules.picture.shapes import Label, Station
from inventory.rules.picture.signs import overlaps
from inventory.rules.verdict import EffectGroup


def make_station(number: int, *, x: float, y: float, text: str = "seized") -> Station:
    return Station(code=f"p{number}", number=number, name="a part", x=x, y=y, group=EffectGroup.LIMITS, text=text)


def label(stations: list[Station], **more: Any) -> tuple[tuple[Label, ...], float]:
    return labelled(stations, **{"taken": [], "named": {}, "off": set(), "page": (328, 120), **more})


def test_words_are_broken_between_words_and_never_cut():
    assert wrapped("dent, air still passes", wide=90) == ("dent, air still", "passes")
    assert wrapped("one two three four", wide=55) == ("one two", "three", "four")
    assert wrapped("Donaudampfschiffahrt", wide=8) == ("Donaudampfschiffahrt",)


def test_wider_letters_keep_more_room():
    assert width_of("mmm") > width_of("aaa") > width_of("iii")


def test_a_label_stands_beside_its_station_when_there_is_room():
    labels, height = label([make_station(1, x=100, y=40)])
    assert [(one.x, one.anchor, one.lines, one.leader) for one in labels] == [(118, "start", ("seized",), None)]
    assert height == 120


def test_a_label_keeps_off_the_instrument_and_is_joined_to_its_station_by_a_line():
    keep = (20.0, 0.0, 180.0, 80.0)
    labels, _ = label([make_station(1, x=100, y=40)], taken=[keep])
    assert not overlaps(labels[0].box, keep)
    assert labels[0].leader is not None
    (x, y), end = labels[0].leader
    assert hypot(x - 100, y - 40) == pytest.approx(15)
    assert overlaps((end[0] - 1, end[1] - 1, end[0] + 1, end[1] + 1), labels[0].box)


def test_words_that_belong_to_no_place_on_the_instrument_stand_beside_or_in_the_list_never_at_the_end_of_a_line():
    keep = (0.0, 0.0, 328.0, 80.0)
    labels, height = label([make_station(1, x=100, y=40)], taken=[keep], off={"p1"})
    assert [(one.lines, one.leader) for one in labels] == [(("1 a part: seized",), None)]
    assert height > 120


def test_words_without_room_go_below_with_their_number_and_the_picture_grows():
    crowd = [
        make_station(i, x=20 + (i % 8) * 22, y=15 + (i // 8) * 22, text="a rather long finding") for i in range(32)
    ]
    labels, height = label(crowd, page=(200, 104))
    below = [one for one in labels if one.box[1] >= 104]
    assert len(labels) == 32
    assert below
    assert all(one.lines[0].startswith(one.code.removeprefix("p")) for one in below)
    assert height >= max(one.box[3] for one in below)


def test_names_are_shown_only_where_asked():
    plain = Station(code="case", number=1, name="case", x=100, y=40)
    assert label([plain])[0] == ()
    assert label([plain], named={"case": 120.0})[0][0].lines == ("case",)
    found = replace(plain, group=EffectGroup.LOOKS, text="latch")
    assert label([found], named={"case": 120.0}, off={"case"})[0][0].lines == ("case: latch",)
    assert label([found], named={"case": 20.0}, off={"case"})[0][0].lines == ("1 case: latch",)  # no room there
