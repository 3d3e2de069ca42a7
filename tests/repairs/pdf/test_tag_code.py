"""The code of a tag, read back by a code reader of its own."""

from __future__ import annotations

from io import BytesIO

import zxingcpp
from PIL import Image

from repairs.pdf.tag_code import tag_code

URL = "HTTPS://HORNS.EXAMPLE/T/23456789ABCDEFGH"


def test_the_picture_named_by_the_address_reads_back():
    pictures, address = tag_code(URL)
    picture = Image.open(BytesIO(pictures[address.removeprefix("asset:")]))
    assert [code.text for code in zxingcpp.read_barcodes(picture)] == [URL]


def test_without_a_tag_there_is_neither_picture_nor_address():
    assert tag_code("") == ({}, "")
