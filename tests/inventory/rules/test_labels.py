"""Geometry of label sheets: on the page, apart from each other, the code as large as the label allows."""

from __future__ import annotations

from itertools import combinations
from math import hypot

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rules.labels import (
    DOT,
    SHEETS,
    LabelError,
    SheetGeometry,
    layout,
    on_dots,
    pages_needed,
    slots,
)

# Sides of a symbol with its quiet zone of four modules: 4 x version + 17 + 8 (ISO/IEC 18004).
MODULES = {version: 4 * version + 25 for version in range(1, 8)}


def make_sheet(**overrides) -> SheetGeometry:
    values = {
        "code": "own",
        "name": "own",
        "width": 50.0,
        "height": 30.0,
        "columns": 4,
        "rows": 9,
        "left": 5.0,
        "top": 4.0,
        "pitch_x": 52.0,
        "pitch_y": 30.0,
    }
    return SheetGeometry(**(values | overrides))


@pytest.mark.parametrize("code", SHEETS)
def test_all_labels_lie_on_letter_paper(code):
    sheet = SHEETS[code]
    for position in range(1, sheet.per_sheet + 1):
        x, y = sheet.corner(position)
        assert x >= 0
        assert y >= 0
        # Letter paper is 8.5 x 11 inches.
        assert x + sheet.width <= 8.5 * 25.4 + 1e-6
        assert y + sheet.height <= 11 * 25.4 + 1e-6


@pytest.mark.parametrize("code", SHEETS)
def test_no_two_labels_overlap(code):
    sheet = SHEETS[code]
    corners = [sheet.corner(position) for position in range(1, sheet.per_sheet + 1)]
    for (ax, ay), (bx, by) in combinations(corners, 2):
        if sheet.is_round:
            assert hypot(ax - bx, ay - by) >= sheet.width
        else:
            assert abs(ax - bx) >= sheet.width - 1e-6 or abs(ay - by) >= sheet.height - 1e-6


@pytest.mark.parametrize(("code", "count"), [("30up", 30), ("20up", 20), ("80up", 80), ("25round", 63)])
def test_a_sheet_holds_what_its_name_says_and_is_centered(code, count):
    sheet = SHEETS[code]
    assert sheet.per_sheet == count
    x, y = sheet.corner(count)
    assert sheet.left == pytest.approx(sheet.page_width - x - sheet.width, abs=1e-6)
    assert sheet.top == pytest.approx(sheet.page_height - y - sheet.height, abs=1e-6)


@pytest.mark.parametrize(
    ("overrides", "sentence"),
    [
        ({"left": -1.0}, "leave the page"),
        ({"columns": 5}, "leave the page"),
        ({"rows": 10}, "leave the page"),
        ({"pitch_x": 49.0}, "overlap"),
        ({"pitch_y": 29.0}, "overlap"),
    ],
)
def test_a_sheet_that_cannot_be_is_refused(overrides, sentence):
    make_sheet()
    with pytest.raises(LabelError, match=sentence):
        make_sheet(**overrides)


@given(code=st.sampled_from(sorted(SHEETS)), count=st.integers(0, 400), start=st.integers(1, 80))
def test_labels_fill_from_the_start_position_without_gap_and_the_pages_are_counted(code, count, start):
    sheet = SHEETS[code]
    if start > sheet.per_sheet:
        with pytest.raises(LabelError, match=f"it has 1 to {sheet.per_sheet}"):
            pages_needed(count=count, sheet=sheet, start=start)
        return
    places = list(slots(count=count, sheet=sheet, start=start))
    assert [place.index for place in places] == list(range(count))
    assert len({(place.page, place.x, place.y) for place in places}) == count
    assert pages_needed(count=count, sheet=sheet, start=start) == len({place.page for place in places})
    if places:
        assert (places[0].page, places[0].x, places[0].y) == (0, *sheet.corner(start))
        used = places[-1].page * sheet.per_sheet + 1
        assert used <= count + start - 1 < used + sheet.per_sheet


@pytest.mark.parametrize("position", [0, -1, 31])
def test_a_position_that_is_not_on_the_sheet_is_refused(position):
    with pytest.raises(LabelError, match=r"has 1 to 30\."):
        SHEETS["30up"].corner(position)


def is_inside(*, sheet: SheetGeometry, x: float, y: float, width: float, height: float) -> bool:
    """Tell whether a box (relative to the label's corner) lies wholly on the label."""
    slack = 1e-6
    if not sheet.is_round:
        return min(x, y) >= -slack and x + width <= sheet.width + slack and y + height <= sheet.height + slack
    center = sheet.width / 2
    corners = [(x + across - center, y + down - center) for across in (0, width) for down in (0, height)]
    return all(hypot(*corner) <= center + slack for corner in corners)


@pytest.mark.parametrize("version", [2, 3, 4, 5])
@pytest.mark.parametrize("code", SHEETS)
def test_code_and_lines_lie_on_the_label_and_apart(code, version):
    sheet = SHEETS[code]
    face = layout(sheet=sheet, modules=MODULES[version])
    assert face.side == pytest.approx(face.module * MODULES[version])
    # The place on the page moves by up to one dot to the next whole one.
    assert is_inside(
        sheet=sheet, x=face.code_x, y=face.code_y, width=face.side + 0.99 * DOT, height=face.side + 0.99 * DOT
    )
    lines = [face.number, face.kind, face.school]
    for line in lines:
        assert is_inside(sheet=sheet, x=line.x, y=line.y, width=line.width, height=line.height)
        is_beside = line.x >= face.code_x + face.side + DOT
        is_below = line.y >= face.code_y + face.side + 0.99 * DOT
        assert is_beside or is_below or line.y + line.height <= face.code_y + 1e-6
    for one, other in combinations(lines, 2):
        assert one.y + one.height <= other.y + 1e-6 or other.y + other.height <= one.y + 1e-6


@pytest.mark.parametrize("code", SHEETS)
def test_modules_print_in_whole_dots_and_one_dot_more_would_not_fit(code):
    sheet = SHEETS[code]
    face = layout(sheet=sheet, modules=MODULES[4])
    dots = face.module / DOT
    assert dots == pytest.approx(round(dots))
    if not sheet.is_round:
        assert (face.module + DOT) * MODULES[4] > sheet.height


def test_modules_of_the_usual_address_are_as_large_as_reported():
    # A phone follows 0.4 mm at hand's distance and with care less; 0.25 mm is for industrial readers: makers' advice.
    sizes = {code: round(layout(sheet=sheet, modules=MODULES[4]).module, 3) for code, sheet in SHEETS.items()}
    assert sizes == {"30up": 0.593, "20up": 0.593, "80up": 0.296, "25round": 0.381}


def test_an_address_too_long_for_small_labels_is_refused_and_fits_larger_ones():
    with pytest.raises(LabelError, match="public address is too long"):
        layout(sheet=SHEETS["80up"], modules=MODULES[7])
    assert layout(sheet=SHEETS["30up"], modules=MODULES[7]).module > 0.4


def test_a_label_without_room_for_any_code_is_refused_not_looped_over():
    with pytest.raises(LabelError):
        layout(sheet=make_sheet(width=12.0, height=12.0, is_round=True), modules=MODULES[4])


@given(st.floats(0, 300))
def test_a_place_moves_to_the_next_whole_dot(length):
    moved = on_dots(length)
    assert -1e-4 < moved - length < DOT
    assert moved / DOT == pytest.approx(round(moved / DOT), abs=1e-6)


def test_words_stand_beside_the_code_and_clear_of_the_edge():
    """By hand on 66.675 x 25.4 mm: 0.4 mm after the code, 1.6 mm before the right edge, the three lines in the middle."""
    sheet = SHEETS["30up"]
    face = layout(sheet=sheet, modules=41)
    assert face.number.x == pytest.approx(face.code_x + face.side + 0.4)
    assert face.number.x + face.number.width == pytest.approx(sheet.width - 1.6)
    assert face.code_x == face.code_y == pytest.approx((sheet.height - face.side - 25.4 / 600) / 2)
    lines = (face.number, face.kind, face.school)
    assert (face.number.size, face.kind.size, face.school.size, face.school.rows) == (5.2, 3.4, 3.0, 2)
    assert face.number.y == pytest.approx((25.4 - 1.2 * (5.2 + 3.4 + 2 * 3.0)) / 2)
    assert [one.y for one in lines[1:]] == pytest.approx([one.y + one.height for one in lines[:-1]])
