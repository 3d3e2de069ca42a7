"""The catalog in Spanish: every word to read is translated, and nothing else differs."""

from __future__ import annotations

from django.utils import translation

from inventory.catalog.load import FOLDER, catalog
from inventory.catalog.load.folder import read_folder
from inventory.catalog.load.language import READ, catalog_word, choice_word, is_stored_language, stored_language
from inventory.rules.notes import unsigned
from tests.test_spanish import messages_of


def read_words(value, *, is_read=False):
    if isinstance(value, dict):
        for key, one in value.items():
            yield from read_words(one, is_read=key in READ)
    elif isinstance(value, list):
        for one in value:
            yield from read_words(one, is_read=is_read)
    elif is_read and isinstance(value, str) and value:
        yield value


def test_the_catalog_is_whole_in_spanish():
    known = {one.id for one in messages_of("catalog")}
    words = {word for word in read_words(read_folder(folder=FOLDER).sections) if " " in word or not word.isidentifier()}
    assert sorted(words - known) == []


def test_the_choices_of_options_are_said_in_spanish_each_of_its_option():
    known = {(one.context, one.id) for one in messages_of("catalog")}
    options = read_folder(folder=FOLDER).sections["options"]
    asked = {(code, choice) for code, option in options.items() for choice in option["choices"]}
    assert sorted(asked - known) == []
    with translation.override("es-mx"):
        assert (choice_word("head", "curved"), choice_word("drum", "bass"), choice_word("clef", "bass")) == (
            "curva", "bombo", "fa",
        )  # fmt: skip
    assert choice_word("key", "Bb") == "B♭"


def test_only_words_to_read_differ_in_the_catalog_of_another_language():
    english = catalog()
    with translation.override("es-mx"):
        spanish = catalog()
    assert spanish.kinds["trumpet"].name == "Trompeta"
    assert spanish.kinds.keys() == english.kinds.keys()
    for code, kind in english.kinds.items():
        there = spanish.kinds[code]
        assert [part.code for part in there.parts] == [part.code for part in kind.parts]
        assert unsigned(kind.name).lower() in there.aliases, "a spreadsheet in English is still understood"
    for code, fault in english.faults.items():
        assert spanish.faults[code].effects == fault.effects
    assert spanish.settings == english.settings


def test_a_stored_word_of_the_catalog_is_read_in_the_readers_language():
    with translation.override("es-mx"):
        assert catalog_word("case") == "estuche"
        assert (catalog_word("pad"), catalog_word("pad", "consumables")) == ("almohadilla", "zapatilla")
        assert catalog().consumables["pad"].name == "zapatilla"
        assert catalog_word("a word of our own") == "a word of our own"
        assert catalog_word("") == ""
        assert {one.origin_words for one in catalog().setting_notes.values()} <= {
            "publicado", "práctica común", "valor inicial de taller",
        }  # fmt: skip
        assert not is_stored_language()
        with stored_language():
            assert is_stored_language()
            assert catalog_word("case") == "case"
    with translation.override("en"):
        assert is_stored_language()
    with translation.override(None):
        assert is_stored_language()
