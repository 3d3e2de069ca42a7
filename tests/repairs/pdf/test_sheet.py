"""The bench sheet as printed: one page, or more for a long plan, never in type that cannot be read. Read back by a PDF reader and a code reader of their own."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from io import BytesIO
from typing import Any

import pypdfium2
import pytest
import zxingcpp
from PIL import Image

from inventory.catalog.load import catalog
from inventory.pages.drawing import FoundLine
from inventory.rules.picture.shapes import Mark
from inventory.rules.verdict import EffectGroup
from repairs.pages.sheet import Sheet, SheetStep
from repairs.pdf import bench_sheet_pdf
from repairs.pdf.sheet import tag_code

URL = "HTTPS://HORNBOOK.EXAMPLE.ORG/T/ABCDEFGHJKLM2345"
LEAST_DIGIT = (
    7 * 0.64
)  # points, as by a ruler: no type under 7 (the house's own), whose digits are 0.64 of it high or more
STEP = SheetStep(
    say="Penetrating oil at both ferrules; stand it so that the oil runs in, overnight if possible",
    where="Third valve slide",
    minutes="2 min to 10 min",
    wait="12 h",
    parts="0.08 can penetrating oil",
    hazards="chemicals",
    after="Rawhide taps on the crook (20%); Warm it gently, then oil and pull again (30%); and 2 more",
)


def make_sheet(*, kind: str = "trumpet", steps: int = 5, **overrides: Any) -> Sheet:
    fields: dict[str, Any] = {
        "asset_number": "TD-0042",
        "kind": catalog().kinds[kind],
        "school": "Elm Street Middle",
        "maker": "Plain Brass Works 000042",
        "verdict": "Does not play",
        "bench": "North shop",
        "opened_by": "Terry Tech",
        "printed_on": date(2026, 9, 14),
        "due_on": date(2026, 9, 30),
        "because": "From the loft <b>",
        "findings": tuple(
            FoundLine(
                number=1, group=EffectGroup.STOPS, words=f"Third valve slide: stuck or seized slide, severe ({n})"
            )
            for n in range(steps)
        ),
        "steps": (STEP,) * steps,
        "done": 2,
        "tools": ("cloth", "tub", "rawhide mallet"),
        "cautions": tuple((one.name, one.caution) for one in catalog().hazards.values()),
        "sent_out": ("Leadpipe: red rot, severe: no torch is allowed at this bench",) * (steps // 4),
        "left": ("Finish: lacquer wear, light: looks only",) * (steps // 4),
        "time_p50": "1 h 20 min",
        "time_p80": "2 h 5 min",
        "cost_p50": Decimal(40),
        "cost_p80": Decimal(75),
        "days": "2 to 4 days",
        "tag_url": URL,
        "marks": {catalog().kinds[kind].parts[0].code: Mark(group=EffectGroup.STOPS, text="stuck")},
    }
    return Sheet(**(fields | overrides))


def pages(pdf: bytes) -> int:
    document = pypdfium2.PdfDocument(pdf)
    count = len(document)
    document.close()
    return count


def words(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    text = " ".join(page.get_textpage().get_text_bounded() for page in document)
    document.close()
    return re.sub(r"\s+", " ", text)


@pytest.mark.parametrize("kind", ["trumpet", "horn_double", "bassoon", "snare_kit", "marimba"])
def test_an_ordinary_plan_stands_on_one_page(kind):
    assert pages(bench_sheet_pdf(make_sheet(kind=kind))) == 1


def test_a_long_plan_runs_on_and_loses_nothing():
    pdf = bench_sheet_pdf(make_sheet(kind="bassoon", steps=25))
    said = words(pdf)
    assert pages(pdf) > 1
    assert [step for step in range(1, 26) if f"{step}. Penetrating oil" not in said] == []
    assert said.count("Not freed: ") == 25
    assert "Heavy lifting. Two people lift it" in said
    assert min(sizes_of(pdf)) >= LEAST_DIGIT


def test_the_sheet_says_what_a_bench_needs():
    said = words(bench_sheet_pdf(make_sheet()))
    for wanted in ("TD-0042", "1 h 20 min", "2 h 5 min", "$40 to $75", "Students never do this work", "rawhide mallet"):
        assert wanted in said
    assert "From the loft <b>" in said


def sizes_of(pdf: bytes) -> set[float]:
    """Return the heights of the digits on all of the sheet, in points."""
    boxes = []
    with pypdfium2.PdfDocument(pdf) as document:
        for sheet in document:
            page = sheet.get_textpage()
            boxes += [page.get_charbox(at) for at in range(page.count_chars()) if page.get_text_range(at, 1).isdigit()]
    return {top - bottom for _left, bottom, _right, top in boxes}


@pytest.mark.parametrize("kind", ["trumpet", "tuba", "bassoon"])
def test_the_numbers_in_the_picture_can_be_read(kind):
    parts = catalog().kinds[kind].parts
    marks = {part.code: Mark(group=group, text="") for part, group in zip(parts[1:], EffectGroup, strict=False)}
    sheet = make_sheet(kind=kind, steps=2, marks=marks)
    assert min(sizes_of(bench_sheet_pdf(sheet))) >= LEAST_DIGIT


def test_the_findings_have_the_numbers_of_their_signs_in_the_picture():
    """Each number stands there twice, once in the picture and once in the list (common practice, no source)."""
    parts = catalog().kinds["trumpet"].parts
    chosen = (3, 9, len(parts))
    sheet = make_sheet(
        steps=1,
        notes=(),
        marks={parts[number - 1].code: Mark(group=EffectGroup.STOPS, text="") for number in chosen},
        findings=tuple(FoundLine(number, EffectGroup.STOPS, f"Part {number:x}h") for number in chosen),
    )
    with pypdfium2.PdfDocument(bench_sheet_pdf(sheet)) as document:
        said = document[0].get_textpage().get_text_bounded()
    assert [said.split().count(str(number)) for number in chosen] == [2, 2, 2]


def test_the_code_on_the_paper_reads_as_the_tag():
    document = pypdfium2.PdfDocument(bench_sheet_pdf(make_sheet()))
    image = document[0].render(scale=200 / 72).to_pil().convert("L")
    document.close()
    assert [code.text for code in zxingcpp.read_barcodes(image)] == [URL]


def test_without_a_tag_there_is_no_code():
    document = pypdfium2.PdfDocument(bench_sheet_pdf(make_sheet(tag_url="")))
    image = document[0].render(scale=2).to_pil().convert("L")
    document.close()
    assert zxingcpp.read_barcodes(image) == []


def test_the_same_sheet_gives_the_same_bytes():
    assert bench_sheet_pdf(make_sheet(steps=2)) == bench_sheet_pdf(make_sheet(steps=2))


def test_the_picture_named_by_the_address_reads_back():
    pictures, address = tag_code(URL)
    picture = Image.open(BytesIO(pictures[address.removeprefix("asset:")]))
    assert [code.text for code in zxingcpp.read_barcodes(picture)] == [URL]


def test_without_a_tag_there_is_neither_picture_nor_address():
    assert tag_code("") == ({}, "")
