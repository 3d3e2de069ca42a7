from __future__ import annotations

import pytest
from django.utils.translation import override

from inventory.catalog.chart_schema import HoleChart
from inventory.pages.charts import chart_page, valves_words
from inventory.selectors.charts import (
    chart_digest,
    known_charts,
)
from inventory.services.charts import confirm_chart
from tests.factories import NOW, TODAY


def confirm(code, director):
    return confirm_chart(code=code, digest=chart_digest(code), actor=director, on=TODAY, at=NOW)


@pytest.mark.parametrize("code", sorted(known_charts()))
def test_every_chart_can_be_read_note_by_note(db, code):
    page = chart_page(code)
    chart = known_charts()[code]
    notes = chart.fingerings if isinstance(chart, HoleChart) else chart.usual
    assert [row["written"] for row in page["fingerings"]] == list(notes)
    assert all(row["usual"] for row in page["fingerings"])


def test_the_open_notes_of_a_trumpet_are_those_of_every_method_book(db):
    """C4 G4 C5 E5 G5 C6: written open notes of a trumpet, as any published chart has them."""
    page = chart_page("trumpet")
    assert [row["written"] for row in page["fingerings"] if row["usual"] == "open"] == [
        "C4",
        "G4",
        "C5",
        "E5",
        "G5",
        "C6",
    ]


def test_the_keys_of_a_flute_say_which_pads_they_move(db):
    page = chart_page("flute")
    assert dict(page["key_acts"])["G♯"] == "opens G♯ pad"
    assert {"A pad, B♭ pad"} <= {what.removeprefix("closes ") for _, what in page["key_acts"]}


def test_an_unknown_chart_is_none(db):
    assert chart_page("kazoo") is None


def test_valves_are_said_as_in_a_band_room():
    assert [valves_words(one) for one in ("0", "13", "T0", "T12")] == ["open", "1-3", "thumb, open", "thumb, 1-2"]


def test_a_fingering_says_what_stands_behind_it_where_two_published_charts_do_not(db):
    rows = {row["written"]: row for row in chart_page("bassoon")["fingerings"]}
    assert rows["G4"]["usual"] == "W half L2 L3 E♭ R1 F"
    assert rows["F#4"]["usual"].endswith("(published charts differ)")
    clarinet = {row["written"]: row for row in chart_page("clarinet")["fingerings"]}
    assert "T L1 R1 (in one published chart only)" in clarinet["Eb4"]["others"]
    assert chart_page("saxophone_baritone")["fingerings"][0]["usual"].endswith("(from memory)")


def test_a_chart_is_read_in_the_readers_language_and_stays_the_one_that_was_confirmed(db):
    digest = chart_digest("flute")
    with override("es-mx"):
        page = chart_page("flute")
        assert page["line"].name == "Flauta y flautín"
        assert not {"thumb pad", "head joint tenon"} & {name for name, *_ in page["holes"]}
        assert chart_digest("flute") == digest
