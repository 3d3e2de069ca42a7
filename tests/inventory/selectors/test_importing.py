"""What an import knows of the register."""

from __future__ import annotations

import pytest

from core.cells import FORMULA_WITHOUT_VALUE
from core.sheets import SheetRow
from inventory.models import ColumnMemory, ImportBatch
from inventory.selectors.importing import (
    batches_for,
    current_columns,
    examples_of,
    find_kind_code,
    guessed_columns,
    import_schools,
    known_fleet,
    places_of,
    problem_table,
)
from tests.factories import make_instrument, make_room, make_school
from tests.inventory.services.importing.makers import make_judged

pytestmark = pytest.mark.django_db


def test_instruments_of_schools_one_does_not_see_are_known_but_not_told(school):
    make_instrument(school=school, asset_number="OURS")
    make_instrument(asset_number="THEIRS")
    known = {one.asset_number: one.is_elsewhere for one in known_fleet([school]).instruments}
    assert known == {"OURS": False, "THEIRS": True}


def test_schools_are_found_by_code_and_name_and_rooms_by_any_spelling(school):
    make_room(school=school, name="Room 12")
    places = places_of([school], own=school)
    assert (places.schools["elm"], places.schools["elm street middle"]) == ("ELM", "ELM")
    assert places.rooms["ELM"]["12"] == "Room 12"


def test_a_director_imports_for_the_own_school_and_a_command_for_all(school, director):
    make_school()
    assert list(import_schools(director)) == [school]
    assert import_schools(None).count() == 2


def test_a_tech_and_an_auditor_see_no_list(school, tech, auditor):
    make_judged(school=school)
    assert not batches_for(tech).exists()
    assert not batches_for(auditor).exists()


def test_words_of_school_lists_find_their_kind():
    assert (find_kind_code("Tpt"), find_kind_code("no such thing")) == ("trumpet", None)


def test_what_a_school_remembers_wins_over_the_heading(school):
    ColumnMemory.objects.create(school=school, heading="brand", field="model")
    guess = guessed_columns(school=school, header=["Brand"], sample=[SheetRow(2, ("Plain",))])
    assert guess.columns[0].field == "model"


def test_examples_are_short_and_each_is_shown_once():
    sample = [SheetRow(number, (text,)) for number, text in enumerate(["Tpt", "Tpt", "x" * 90, "", "b", "c"])]
    assert examples_of(0, sample=sample) == ["Tpt", "x" * 40, "b"]


def test_a_cell_that_cannot_be_read_is_explained_in_the_readers_language(monkeypatch):
    monkeypatch.setattr("inventory.selectors.importing.gettext", "«{}»".format)
    sample = [SheetRow(2, (FORMULA_WITHOUT_VALUE,))]
    assert examples_of(0, sample=sample) == ["(«a formula without a value»)"]


def test_current_columns_are_what_somebody_chose(school):
    batch = ImportBatch(school=school, header=["Instrument", "Whatnot"], mapping={"0": "kind", "1": ""})
    assert [column.field for column in current_columns(batch).columns] == ["kind", None]


def test_problem_rows_keep_their_own_columns_first(school):
    table = problem_table(make_judged(school=school))
    assert table.header == ("Instrument", "Make", "Serial", "Tag", "Row", "Problem", "Row mark")
    assert table.rows[0][:5] == ("Nothing known", "Plain", "3", "", 4)
