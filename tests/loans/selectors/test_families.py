"""Every word a family reads is there in each language, with the same things filled in."""

from __future__ import annotations

import re
from datetime import date

from loans.selectors.agreements import default_terms
from loans.selectors.families import LANGUAGES, day_in, thing_in, words_in


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


def test_days_and_things_are_said_in_the_language():
    assert day_in("en", date(2027, 5, 28)) == "May 28, 2027"
    assert day_in("es", date(2027, 5, 28)) == "28 de mayo de 2027"
    assert thing_in("es", "Trumpet") == "Trompeta"
    assert thing_in("es", "kazoo") == thing_in("en", "kazoo") == "kazoo"
