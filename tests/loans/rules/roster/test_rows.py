"""Records as RFC 4180 (2005) has them, and what is not."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loans.rules.roster import rows as module
from loans.rules.roster.problems import UnreadableError
from loans.rules.roster.rows import records


def read(data: bytes):
    return list(records(io.BytesIO(data)))


@pytest.mark.parametrize("end", [b"\r\n", b"\n"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("last", [True, False])
def test_line_ends_and_a_byte_order_mark_are_tolerated(end, mark, last):
    found = read(mark + end.join([b"a,b", b'1,"x, ""y"""', "é,".encode()]) + (end if last else b""))
    assert [(one.number, one.cells, one.faults) for one in found] == [
        (1, ["a", "b"], ()),
        (2, ["1", 'x, "y"'], ()),
        (3, ["é", ""], ()),
    ]


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (b"\xe9,x", "not UTF-8"),
        (b'"one\rtwo",x', "carriage return"),
        (b"one\rtwo,x", "carriage return"),
        (b'"one\r\ntwo",x', "line break"),
        (b'"one\ntwo",x', "line break"),
        (b'"one"two,x', "quotation mark"),
        (b"a\x00b,x", "control character"),
    ],
)
def test_a_faulty_record_is_told_and_the_next_is_read(line, words):
    head, faulty, after = read(b"a,b\r\n" + line + b"\r\nc,d\r\n")
    assert words in " ".join(faulty.faults)
    assert (faulty.number, after.number, after.cells, after.faults, head.faults) == (2, 3, ["c", "d"], (), ())


def test_a_quotation_mark_never_closed_is_told():
    assert "quotation mark" in read(b'a,b\r\n"c,d\r\ne,f\r\n')[-1].faults[-1]
    assert not read(b'a,b\r\n"c,d\r\ne,f\r\n')[-1].is_whole


def test_an_endless_line_is_not_read_on():
    with pytest.raises(UnreadableError, match="longer than"):
        read(b"a,b\r\n" + b"x" * 70_000)


def test_nor_more_rows_than_a_roster_has(monkeypatch):
    monkeypatch.setattr(module, "MOST_ROWS", 3)
    assert len(read(b"a\r\n" * 3)) == 3
    with pytest.raises(UnreadableError, match="more than 3 rows"):
        read(b"a\r\n" * 4)


@given(st.binary(max_size=300))
def test_whatever_the_bytes_there_is_no_error(data):
    numbers = [one.number for one in records(io.BytesIO(data))]
    assert numbers == list(range(1, len(numbers) + 1))


TEXT = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=20)


@given(st.lists(st.lists(TEXT, min_size=2, max_size=4), min_size=1, max_size=6))
def test_what_the_standard_library_writes_is_read_back(table):
    out = io.StringIO()
    csv.writer(out).writerows(table)
    found = read(b"\xef\xbb\xbf" + out.getvalue().encode())
    assert [one.cells for one in found] == table
    assert not any(one.faults for one in found)
