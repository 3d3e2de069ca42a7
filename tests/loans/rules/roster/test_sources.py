import io
import struct
import warnings
import zipfile

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loans.rules.roster import sources as module
from loans.rules.roster.problems import UnreadableError
from loans.rules.roster.sources import ZipSource, source_at
from tests.rosters import files_of, school_rows, write_folder, write_zip, zip_of


def test_folder_and_zip_file_give_the_same(tmp_path):
    files = files_of(school_rows())
    for path in (write_folder(tmp_path / "folder", files), write_zip(tmp_path / "roster.zip", files)):
        source = source_at(path)
        assert source.names == tuple(sorted(files))
        assert not source.problems
        for name, data in files.items():
            with source.open(name) as stream:
                assert stream.read() == data
        source.close()


def test_what_else_lies_in_a_folder_does_not_matter(tmp_path):
    (tmp_path / "old").mkdir()
    for name in ("notes.txt", ".hidden.csv", "users.csv"):
        (tmp_path / name).touch()
    assert source_at(tmp_path).names == ("users.csv",)


def test_no_such_path_and_no_zip_file_are_refused(tmp_path):
    with pytest.raises(UnreadableError, match="no such file"):
        source_at(tmp_path / "nowhere")
    for data in (
        b"",
        b"sourcedId,status\r\n",
        b"PK\x03\x04" + b"x" * 100,
        zip_of({"users.csv": b"x" * 500}).getvalue()[:-30],
    ):
        (tmp_path / "roster.zip").write_bytes(data)
        with pytest.raises(UnreadableError, match="zip"):
            source_at(tmp_path / "roster.zip")


def test_files_in_a_sub_folder_are_told_of_and_read_all_the_same():
    source = ZipSource(zip_of(files_of(school_rows()), folder="export/"))
    assert {problem.file for problem in source.problems} == {f"export/{name}" for name in files_of(school_rows())}
    assert "users.csv" in source.names


def test_what_is_no_file_of_the_standard_or_there_twice_is_told():
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for name in ("readme.txt", "users.csv", "users.csv"):
            archive.writestr(name, b"x")
    assert [(one.file, one.reason[:12]) for one in ZipSource(packed).problems] == [
        ("readme.txt", "The standard"),
        ("users.csv", "The zip file"),
    ]


def test_a_small_file_that_unpacks_without_end_is_not_read_on(monkeypatch):
    monkeypatch.setattr(module, "LARGEST_FILE", 2**20)
    packed = zip_of({"users.csv": b"a,b\r\n" * 2**19}).getvalue()
    assert len(packed) < 20_000
    # Its list of contents says that it is small: the bytes themselves are counted.
    size = struct.pack("<I", 5 * 2**19)
    assert packed.count(size) == 2
    for data in (packed, packed.replace(size, struct.pack("<I", 2**24))):
        with pytest.raises(UnreadableError), ZipSource(io.BytesIO(data)).open("users.csv") as stream:
            stream.read()


def test_a_list_of_contents_that_would_fill_memory_is_not_parsed(monkeypatch):
    monkeypatch.setattr(module, "LARGEST_DIRECTORY", 500)
    with pytest.raises(UnreadableError, match="far more files"):
        ZipSource(zip_of({f"f{number}.csv": b"" for number in range(20)}))


def test_a_file_with_a_password_or_damaged_is_refused_alone():
    packed = bytearray(zip_of({"users.csv": b"a,b\r\n" * 500, "orgs.csv": b"c"}).getvalue())
    packed[40:44] = b"\xff\xff\xff\xff"
    source = ZipSource(io.BytesIO(bytes(packed)))
    with pytest.raises(UnreadableError, match="damaged"), source.open("users.csv") as stream:
        stream.read()
    with source.open("orgs.csv") as stream:
        assert stream.read() == b"c"
    locked = bytearray(zip_of({"users.csv": b"a"}).getvalue())
    for mark, at in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        locked[locked.index(mark) + at] |= 1
    with pytest.raises(UnreadableError, match="password"), ZipSource(io.BytesIO(bytes(locked))).open("users.csv"):
        pass


@given(st.data())
def test_a_spoiled_zip_file_is_refused_or_read_never_an_error(data):
    packed = bytearray(zip_of({"users.csv": b"a,b\r\n" * 9, "orgs.csv": b"c"}).getvalue())
    for place in data.draw(st.lists(st.integers(0, len(packed) - 1), max_size=4)):
        packed[place] = data.draw(st.integers(0, 255))
    try:
        source = ZipSource(io.BytesIO(bytes(packed)))
        for name in source.names:
            with source.open(name) as stream:
                stream.read()
    except UnreadableError as error:
        assert str(error)  # noqa: PT017  # either way is right
