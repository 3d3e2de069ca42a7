"""A messy workbook becomes instruments: sent, columns put right, looked at, confirmed, the rest corrected and sent again."""

from __future__ import annotations

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import Workbook, load_workbook

from core.sheets import read_sheet
from inventory.models import ColumnMemory, Donation, ImportBatch, Instrument, Room, Tag
from tests.factories import make_instrument, make_school
from tests.opening import differences

SEND = reverse("inventory:import")


def messy_workbook() -> bytes:
    """A title merged across, a header of two merged rows, blank lines, formulas, and people's own words."""
    book = Workbook()
    sheet = book.active
    sheet.append(["Band inventory 2024", None, None, None, None, None, None, None, None])
    sheet.merge_cells("A1:I1")
    sheet.append([])
    sheet.append(["Tag", "Instrument", "Identification", None, None, "Bought", None, "Given by", "Room"])
    sheet.merge_cells("C3:E3")
    sheet.merge_cells("F3:G3")
    sheet.append([None, None, "Brand", "Model", "Serial #", "Date", "Price", None, None])
    rows = [
        ["MT-1", "TRUMPET #3", "Plain Brass Works", "T1", "100001", "8/15/2015", "$1,200.00", None, "Band Room"],
        [None, "Tpt", "Plain Brass Works", "T1", 100002, "Aug 2016", 900, None, "Rm 12"],
        [],
        [None, "Bb Clarinet", "Plain Brass Works", "C1", "100003", "2017", "free", "A Giver", "room 12"],
        [None, "trumpet", "Plain Brass Works", "T1", "100001", None, None, None, None],
        [None, "Sackbut of glass", "Plain Brass Works", None, "100005", None, None, None, None],
        [None, "Flute", "Plain Brass Works", None, "=CONCATENATE(1,2)", None, None, None, None],
        [None, "Flute", "=cmd", None, "100007", None, "abc", None, None],
    ]
    for row in rows:
        sheet.append(row)
    sheet["C12"].data_type = "s"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def send(client, school, data, name="list.xlsx"):
    return client.post(SEND, {"file": SimpleUploadedFile(name, data), "school": school.pk}, follow=True)


def choices_of(answer) -> dict[str, str]:
    return {name: str(field.initial) for name, field in answer.context["form"].fields.items()}


def judged(client, school, data, name="list.xlsx", **corrections) -> ImportBatch:
    answer = send(client, school, data, name)
    batch = ImportBatch.objects.first()
    chosen = choices_of(answer) | corrections
    client.post(reverse("inventory:import-columns", args=[batch.pk]), chosen)
    batch.refresh_from_db()
    return batch


def test_a_messy_workbook_becomes_instruments_and_its_problem_rows_come_back_corrected(client, school, director):
    client.force_login(director)
    batch = judged(client, school, messy_workbook(), **{"column-5": "acquired_on"})
    assert (batch.rows_new, batch.rows_known, batch.rows_problem) == (3, 0, 4)
    assert Instrument.objects.count() == 0
    page = client.get(reverse("inventory:import-batch", args=[batch.pk])).text
    assert "also in row 5" in page
    assert "is not a kind of instrument we know" in page
    assert "a formula without a value" in page

    client.post(reverse("inventory:import-confirm", args=[batch.pk]))
    assert Instrument.objects.count() == 3
    kept = Instrument.objects.get(asset_number="MT-1")
    assert (kept.kind_code, kept.serial, str(kept.acquired_on)) == ("trumpet", "100001", "2015-08-15")
    assert {room.name for room in Room.objects.filter(school=school)} == {"Band Room", "Rm 12"}
    assert Donation.objects.get().donor_name == "A Giver"
    assert Tag.objects.live().count() == 3
    assert differences() == (3, [])

    problems = client.get(reverse("inventory:import-problems", args=[batch.pk, "xlsx"])).content
    book = load_workbook(io.BytesIO(problems))
    sheet = book.active
    assert [cell.value for cell in sheet[1]][-3:] == ["Row", "Problem", "Row mark"]
    columns = {cell.value: cell.column for cell in sheet[1]}
    serial = next(column for name, column in columns.items() if name and "Serial" in name)
    kind = next(column for name, column in columns.items() if name and "Instrument" in name)
    price = next(column for name, column in columns.items() if name and "Price" in name)
    for row in range(2, 6):
        sheet.cell(row, serial).value = f"20000{row}"
        sheet.cell(row, kind).value = "Flute"
        sheet.cell(row, price).value = "$5"
    out = io.BytesIO()
    book.save(out)
    again = judged(client, school, out.getvalue(), "corrected.xlsx")
    assert (again.rows_new, again.rows_known, again.rows_problem) == (4, 0, 0)
    client.post(reverse("inventory:import-confirm", args=[again.pk]))
    assert Instrument.objects.count() == 7
    assert differences() == (7, [])


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_a_list_of_problem_rows_holds_no_cell_that_runs(client, school, director, form):
    client.force_login(director)
    data = '\ufeffInstrument,Make,Serial,Comment\nNo such thing,"=HYPERLINK(""x"")",+1234,@SUM(1)\n'.encode()
    batch = judged(client, school, data, "list.csv")
    content = client.get(reverse("inventory:import-problems", args=[batch.pk, form])).content
    if form == "csv":
        cells = content.decode("utf-8-sig").splitlines()[1].split(",")
        assert [cell for cell in cells if cell.strip('"')[:1] in tuple("=+-@")] == []
    else:
        assert [c.value for row in load_workbook(io.BytesIO(content)).active for c in row if c.data_type == "f"] == []
    assert len(list(read_sheet(data=content, filename="x").rows)) == 1


def test_latin_1_bytes_a_mark_at_the_start_and_blank_lines_do_no_harm(client, school, director):
    client.force_login(director)
    latin = "Instrument;Marque;Serial\n\nTpt;Café Brass;1\n;;\nFlute;Über;2\n".encode("latin-1")
    batch = judged(client, school, latin, "list.csv", **{"column-1": "maker"})
    client.post(reverse("inventory:import-confirm", args=[batch.pk]))
    assert set(Instrument.objects.values_list("maker", flat=True)) == {"Café Brass", "Über"}


def test_the_same_file_twice_adds_nothing(client, school, director):
    client.force_login(director)
    data = b"Instrument,Make\nTpt,Plain\nTpt,Plain\nFlute,Plain\n"
    for expected in ((3, 0), (0, 3)):
        batch = judged(client, school, data, "list.csv")
        assert (batch.rows_new, batch.rows_known) == expected
        client.post(reverse("inventory:import-confirm", args=[batch.pk]))
    assert Instrument.objects.count() == 3


def test_confirming_twice_writes_once(client, school, director):
    client.force_login(director)
    batch = judged(client, school, b"Instrument,Serial\nTpt,1\n", "list.csv")
    for _ in range(2):
        client.post(reverse("inventory:import-confirm", args=[batch.pk]))
    assert Instrument.objects.count() == 1


def test_what_was_corrected_is_known_the_next_time(client, school, director):
    client.force_login(director)
    judged(client, school, b"Instrument,Whatnot\nTpt,abc1\n", "one.csv", **{"column-1": "serial"})
    assert ColumnMemory.objects.get(school=school, heading="whatnot").field == "serial"
    answer = send(client, school, b"Instrument,Whatnot\nTpt,abc2\n", "two.csv")
    assert choices_of(answer)["column-1"] == "serial"
    assert "as you chose last time" in answer.text


def test_a_row_of_another_school_is_a_problem_and_its_instruments_are_not_told(client, school, director):
    other = make_school(code="OAK", name="Oak Hill High")
    make_instrument(school=other, maker="Secret Maker", serial="777", asset_number="OAK-9")
    client.force_login(director)
    data = b"Instrument,Make,Serial,Tag,School\nTpt,Secret Maker,777,,\nTpt,X,1,OAK-9,\nTpt,X,2,,Oak Hill High\n"
    batch = judged(client, school, data, "list.csv")
    assert (batch.rows_new, batch.rows_problem) == (0, 3)
    page = client.get(reverse("inventory:import-batch", args=[batch.pk])).text
    assert "at another school" in page
    assert "belongs to an instrument at another school" in page
    assert "is not one of your schools" in page
    assert "OAK-9, trumpet" not in page
