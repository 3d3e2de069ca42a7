"""Words find their place, or go below the picture."""

from __future__ import annotations

from dataclasses import replace

from inventory.rules.picture.labels import labelled, overlaps, station_box, width_of, wrapped
from inventory.rules.picture.shapes import Station
from inventory.rules.verdict import EffectGroup


def make_station(number: int, *, x: float, y: float, text: str = "seized") -> Station:
    return Station(code=f"p{number}", number=number, name="a part", x=x, y=y, group=EffectGroup.LIMITS, text=text)


def test_long_words_are_broken_and_cut_with_an_ellipsis():
    assert wrapped("dent, air still passes", letters=12) == ("dent, air", "still passes")
    assert wrapped("one two three four five six", letters=8, lines=2)[-1].endswith("…")
    assert wrapped("Donaudampfschiffahrt", letters=8) == ("Donauda…",)


def test_wider_letters_keep_more_room():
    assert width_of("mmm") > width_of("aaa") > width_of("iii")


def test_touching_boxes_do_not_overlap():
    assert not overlaps((0, 0, 10, 10), (10, 0, 20, 10))
    assert overlaps((0, 0, 10, 10), (9, 9, 20, 20))


def test_a_label_stands_below_its_station_when_there_is_room():
    labels, height = labelled([make_station(1, x=100, y=40)], [], keep=[], width=328, height=120, names=False)
    assert [(label.x, label.anchor, label.lines) for label in labels] == [(100, "middle", ("seized",))]
    assert labels[0].box[1] > 40
    assert height == 120


def test_a_label_avoids_what_is_drawn_when_it_can():
    keep = [(60.0, 50.0, 140.0, 80.0)]
    labels, _ = labelled([make_station(1, x=100, y=60)], [], keep=keep, width=328, height=120, names=False)
    assert not overlaps(labels[0].box, keep[0])


def test_words_without_room_go_below_with_their_number_and_the_picture_grows():
    crowd = [
        make_station(i, x=20 + (i % 8) * 22, y=15 + (i // 8) * 22, text="a rather long finding") for i in range(32)
    ]
    labels, height = labelled(crowd, [], keep=[], width=200, height=104, names=False)
    below = [label for label in labels if label.box[1] >= 104]
    assert len(labels) == 32
    assert below
    assert all(label.lines[0].startswith(label.code.removeprefix("p")) for label in below)
    assert height >= max(label.box[3] for label in below)


def test_names_are_shown_only_where_asked():
    plain = Station(code="bell", number=1, name="bell", x=100, y=40)
    assert labelled([plain], [], keep=[], width=328, height=120, names=False)[0] == ()
    assert labelled([plain], [], keep=[], width=328, height=120, names=True)[0][0].lines == ("bell",)


def test_a_sign_takes_its_radius_and_a_little_more():
    plain = Station(code="a", number=1, name="a", x=50, y=80)
    assert station_box(plain) == (38.5, 68.5, 61.5, 91.5)  # ten and a half
    assert station_box(replace(plain, group=EffectGroup.LIMITS)) == (36.5, 66.5, 63.5, 93.5)  # a triangle is wider


def test_boxes_that_only_touch_do_not_overlap():
    assert overlaps((0, 0, 10, 10), (9, 9, 20, 20))
    assert not overlaps((0, 0, 10, 10), (10, 0, 20, 10))
    assert not overlaps((0, 0, 10, 10), (0, 10, 10, 20))
