"""The frame of a sample as text, and strata by value."""

from __future__ import annotations

import subprocess
from decimal import Decimal

import pytest

from inventory.rules.sample_frame import ValueBands, cuts_of, frame_hash, frame_text, strata_in

D = Decimal
BANDS = ValueBands((D(500), D(1000), D(3000)))


@pytest.mark.parametrize(
    ("amount", "band"), [("0", "A"), ("499.99", "A"), ("500", "B"), ("999.99", "B"), ("1000", "C"), ("3000", "D")]
)
def test_an_amount_at_a_cut_belongs_above_it(amount, band):
    """Common practice, no source: "under $500", then "$500 to $999.99"."""
    assert BANDS.of(D(amount)) == band


def test_bands_are_told_in_words():
    assert BANDS.labels() == {
        "A": "under $500",
        "B": "$500 to $999.99",
        "C": "$1,000 to $2,999.99",
        "D": "$3,000 and up",
    }


@pytest.mark.parametrize("cuts", [(), (D(0),), (D(500), D(500)), (D(2), D(1)), tuple(map(D, range(1, 7)))])
def test_cuts_that_make_no_bands_are_refused(cuts):
    with pytest.raises(ValueError, match="cuts must rise"):
        ValueBands(cuts)


def test_cuts_are_read_as_they_were_kept():
    assert cuts_of(["500", "1000.5"]) == (D(500), D("1000.5"))


def test_a_frame_is_read_as_it_was_kept_whatever_the_order():
    strata = {"OAK": ["T 2", "T-1"], "ELM": ["F-3\u2028x"]}
    text = frame_text(strata)
    assert text == "ELM\tF-3\u2028x\nOAK\tT 2\nOAK\tT-1\n"
    assert strata_in(text) == {"ELM": ["F-3\u2028x"], "OAK": ["T 2", "T-1"]}
    assert frame_text({"ELM": ["F-3\u2028x"], "OAK": ["T-1", "T 2"]}) == text


def test_its_hash_is_what_another_tool_takes_of_the_file(tmp_path):
    """sha256sum of GNU coreutils."""
    text = frame_text({"all": ["Ä-1", "B-2"]})
    (tmp_path / "frame.txt").write_bytes(text.encode())
    told = subprocess.run(["sha256sum", tmp_path / "frame.txt"], capture_output=True, text=True, check=True).stdout
    assert told.split()[0] == frame_hash(text)
