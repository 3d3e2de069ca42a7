"""Every word a family reads is there in each language, with the same things filled in."""

from __future__ import annotations

import re
from datetime import date

from inventory.catalog.load import catalog
from inventory.catalog.schema import Severity
from loans.selectors.agreements import default_terms
from loans.selectors.families import LANGUAGES, day_in, finding_in, thing_in, where_in, words_in


def holes(text: str) -> set[str]:
    return set(re.findall(r"\{(\w+)\}", text))


def test_the_languages_say_the_same():
    english = words_in("en")
    for language in LANGUAGES:
        words = words_in(language)
        assert words.keys() == english.keys()
        assert [key for key in words if key not in {"day", "time"} and holes(words[key]) != holes(english[key])] == []


def test_the_default_terms_have_the_same_paragraphs():
    assert len({default_terms(language).count("\n\n") for language in LANGUAGES}) == 1


def upper_first(text: str) -> str:
    return text[:1].upper() + text[1:]


def test_every_finding_that_a_paper_can_print_is_said_in_spanish():
    faults = [fault.name for fault in catalog().faults.values()]
    spots = {
        (part.name, place)
        for kind in catalog().kinds.values()
        for part in kind.parts
        for place in ("", *(one.name for one in part.places))
    }
    english = {name for spot in spots for name in spot if name} | set(faults)
    assert [name for name in sorted(english) if thing_in("es", name) == name] == []
    assert [one for one in Severity if one.value not in words_in("es")] == []
    for number, (part, place) in enumerate(sorted(spots)):
        fault, severity = faults[number % len(faults)], tuple(Severity)[number % len(Severity)]
        where = f"{part}, {place}" if place else part
        said = f"{thing_in('es', part)}, {thing_in('es', place)}" if place else thing_in("es", part)
        line = f"{upper_first(where)}: {fault}, {severity.value}"
        assert finding_in("en", line) == line
        assert finding_in("es", line) == (
            f"{upper_first(said)}: {thing_in('es', fault)}, {words_in('es')[severity.value]}"
        )
    assert where_in("es", "Main tuning slide") == "Bomba de afinación general"
    assert finding_in("es", "Bars naturals, F#3 bar: cracked or dead bar, severe") == (
        "Láminas de las notas naturales, lámina de fa sostenido 3: lámina agrietada o sin sonido, grave"
    )
    assert finding_in("es", "Tone holes (whole body), Eb pad: pad leak, light") == (
        "Orificios tonales (todo el cuerpo), zapatilla de mi bemol: zapatilla con fuga, leve"
    )
    assert finding_in("es", "Lost part x: lost fault, light") == "Lost part x: lost fault, leve"


def test_every_kind_and_accessory_of_the_catalog_is_said_in_spanish():
    """Most of the trade's words on both sides of the border; common practice, no source."""
    kinds = catalog().kinds.values()
    english = {kind.name for kind in kinds} | {one.name for kind in kinds for one in kind.accessories}
    same = {"Marimba", "Oboe", "Tuba", "Viola"}  # are written alike
    assert {name for name in english if thing_in("es", name) == name} <= same
    assert [name for name in sorted(english) if "pad" in thing_in("es", name).split()] == []
    assert thing_in("es", "practice pad") == "almohadilla de práctica", "no pad of a note"


def test_days_and_things_are_said_in_the_language():
    assert day_in("en", date(2027, 5, 28)) == "May 28, 2027"
    assert day_in("es", date(2027, 5, 28)) == "28 de mayo de 2027"
    assert thing_in("es", "Trumpet") == "Trompeta"
    assert thing_in("es", "kazoo") == thing_in("en", "kazoo") == "kazoo"
