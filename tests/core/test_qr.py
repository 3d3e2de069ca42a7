"""QR codes against the figures of ISO/IEC 18004 and an independent decoder."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET

import numpy as np
import pytest
import zxingcpp
from PIL import Image

from core.qr import QrTextError, matrix, png_1bit, svg, version_of

ADDRESS = "HTTPS://HORNBOOK.EXAMPLE.ORG/T/ABCDEFGHJKLMNPQR"

# ISO/IEC 18004, characters in alphanumeric mode by version and level, as printed in makers' manuals.
CAPACITY = {
    1: {"L": 25, "M": 20, "Q": 16, "H": 10},
    2: {"L": 47, "M": 38, "Q": 29, "H": 20},
    3: {"L": 77, "M": 61, "Q": 47, "H": 35},
    4: {"L": 114, "M": 90, "Q": 67, "H": 50},
    5: {"L": 154, "M": 122, "Q": 87, "H": 64},
    6: {"L": 195, "M": 154, "Q": 108, "H": 84},
}


def opened(png: bytes) -> Image.Image:
    return Image.open(io.BytesIO(png))


@pytest.mark.parametrize("error", "LMQH")
@pytest.mark.parametrize("version", CAPACITY)
def test_the_smallest_version_holds_what_the_standard_says_and_not_one_more(version, error):
    most = CAPACITY[version][error]
    assert len(matrix("A" * most, error=error)) == 4 * version + 17
    assert version_of(matrix("A" * (most + 1), error=error)) == version + 1


@pytest.mark.parametrize("error", "LMQH")
@pytest.mark.parametrize("text", [ADDRESS, "0", "A1 $%*+-./:", "HTTP://127.0.0.1:8000/T/ABCDEFGHJKLMNPQR"])
def test_an_independent_decoder_reads_the_text_the_level_and_the_version(text, error):
    modules = np.array(matrix(text, error=error))
    picture = np.kron(np.where(np.pad(modules, 4), 0, 255).astype(np.uint8), np.ones((4, 4), dtype=np.uint8))
    (found,) = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.QRCode)
    assert found.text == text
    assert found.ec_level == error


def test_a_typical_address_just_fits_version_3():
    assert len(ADDRESS) == CAPACITY[3]["Q"] == 47
    assert len(matrix(ADDRESS)) == 29


def test_a_larger_version_can_be_asked_for_and_reads_the_same():
    modules = np.array(matrix(ADDRESS, min_version=4))
    assert len(modules) == 33
    picture = np.kron(np.where(np.pad(modules, 4), 0, 255).astype(np.uint8), np.ones((3, 3), dtype=np.uint8))
    assert [found.text for found in zxingcpp.read_barcodes(picture)] == [ADDRESS]


def test_what_the_mask_lays_over_the_data_is_the_checkerboard_that_the_format_information_names():
    """ISO/IEC 18004, table of format information: level Q, mask 000 reads 011010101011111, its first bits by the side."""
    modules = matrix(ADDRESS)
    assert "".join("01"[dark] for dark in modules[8][:6]) == "011010"


@pytest.mark.parametrize("text", ["https://hornbook.example.org", "A_B", "É", "A\n", "A?B=C"])
def test_text_outside_the_alphanumeric_set_is_refused_by_name(text):
    with pytest.raises(QrTextError, match="takes capitals, digits"):
        matrix(text)


def test_no_text_and_too_much_text_are_refused():
    with pytest.raises(QrTextError, match="no text"):
        matrix("")
    # ISO/IEC 18004: version 40 at level Q holds 2,420 alphanumeric characters, from memory.
    assert version_of(matrix("A" * 2420)) == 40
    with pytest.raises(QrTextError, match="2421 characters, which is too long"):
        matrix("A" * 2421)


@pytest.mark.parametrize("module_px", [1, 3, 8])
def test_the_png_is_one_bit_deep_with_a_quiet_zone_of_four_modules(module_px):
    picture = opened(png_1bit(ADDRESS, module_px=module_px))
    assert picture.mode == "1"
    assert picture.size == ((29 + 8) * module_px,) * 2
    dark = ~np.array(picture)
    rows, columns = np.flatnonzero(dark.any(axis=1)), np.flatnonzero(dark.any(axis=0))
    border = 4 * module_px
    assert (rows[0], columns[0]) == (border, border)
    assert (rows[-1], columns[-1]) == (border + 29 * module_px - 1,) * 2
    assert np.array_equal(dark[border::module_px, border::module_px][:29, :29], np.array(matrix(ADDRESS)))


def test_the_svg_draws_the_very_modules_and_speaks_its_label():
    drawn = svg(ADDRESS, label='Tag <of> "Tuba" & more')
    root = ET.fromstring(drawn)  # noqa: S314  # our own text
    assert root.get("aria-label") == 'Tag <of> "Tuba" & more'
    assert root.get("viewBox") == "0 0 37 37"
    canvas = np.zeros((37, 37), dtype=bool)
    for run in root[1].get("d").rstrip("z").split("z"):
        corner, rest = run[1:].split("h", 1)
        x, y = map(int, corner.split())
        canvas[y, x : x + int(rest.split("v")[0])] = True
    assert np.array_equal(canvas, np.pad(np.array(matrix(ADDRESS)), 4))
