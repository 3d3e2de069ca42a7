"""Labels that districts have, read from pictures; two people who count the same room."""

from __future__ import annotations

from django.urls import reverse

from core.qr import matrix
from inventory.models import Sighting
from inventory.services.counts import open_count
from tests.factories import NOW, make_instrument
from tests.plugins.browser import PHONE

# Bars as python-barcode 0.16.1 draws them (Code 39: ISO/IEC 16388; Code 128: ISO/IEC 15417), modules as ppf.datamatrix 0.2
# does (ISO/IEC 16022, whose annex O encodes this very "123456").
CODE_39 = (
    "100010111011101010101110001011101011101000111010101110101110001010101110111000101000111010111010101000111010111011101"
    "00010101110100010111011101"
)
CODE_128 = (
    "110100100001000110100011010001110100110111001011101111011001001110110010111001011110111010011011100110010011101001110"
    "0110100111100101100011101011"
)
DATA_MATRIX = (
    "1010101010", "1100101101", "1100000100", "1100011101", "1100001000", "1000001111", "1110110000", "1111011001",
    "1001110100", "1111111111",
)  # fmt: skip
TAG = "HTTPS://HORNS.EXAMPLE/T/23456789ABCDEFGH"
READ = """async ([rows, module, height, turn]) => {
  const { labelReader } = await import("/static/js/reader.js");
  const canvas = document.createElement("canvas");
  [canvas.width, canvas.height] = [900, 600];
  const pen = canvas.getContext("2d");
  pen.fillStyle = "#ddd"; pen.fillRect(0, 0, 900, 600);
  pen.translate(450, 300); pen.rotate(turn * Math.PI / 180);
  const [wide, high] = [rows[0].length * module, rows.length * height];
  pen.fillStyle = "#fff"; pen.fillRect(-wide / 2 - 40, -high / 2 - 40, wide + 80, high + 80);
  pen.fillStyle = "#111";
  rows.forEach((row, y) => [...row].forEach((bit, x) => {
    if (bit === "1") pen.fillRect(x * module - wide / 2, y * height - high / 2, module + 0.5, height + 0.5);
  }));
  return (await labelReader())(canvas);
}"""


def test_labels_that_districts_have_are_read_from_pictures(transactional_db, director, open_page):
    page = open_page(user=director, viewport=PHONE)
    page.goto(reverse("desk:scan"))
    qr = ["".join("1" if dark else "0" for dark in row) for row in matrix(TAG)]
    for rows, module, height, text in (
        ([CODE_39], 4, 120, "DIST 41"),
        ([CODE_128], 4, 120, "EQ-2019-41"),
        (list(DATA_MATRIX), 14, 14, "123456"),
        (qr, 8, 8, TAG),
    ):
        for turn in (0, 9):
            assert page.evaluate(READ, [rows, module, height, turn]) == text, (text, turn)
    blank = [["0" * 30], 4, 90, 0]
    assert page.evaluate(READ, blank) is None


def test_two_people_count_one_room(transactional_db, school, director, tech, open_page):
    for number in (1, 2):
        make_instrument(school=school, asset_number=f"TV-{number}")
    count = open_count(school=school, actor=director, at=NOW)
    one, two = open_page(user=director, viewport=PHONE), open_page(user=tech, viewport=PHONE)
    for page in (one, two):
        page.goto(reverse("desk:count", args=[count.pk]))
    box = "Tag, bar code or number"
    for page, number in ((one, "TV-1"), (two, "TV-2"), (two, "TV-1")):
        page.get_by_label(box).fill(number)
        page.keyboard.press("Enter")
        page.locator("#running ol strong", has_text=number).wait_for()
        assert page.get_by_label(box).input_value() == ""
    two.get_by_text("TV-1 was already counted by Dana Director").first.wait_for()
    one.get_by_text("2/2").wait_for()  # by itself, without a tap
    assert Sighting.objects.count() == 2
