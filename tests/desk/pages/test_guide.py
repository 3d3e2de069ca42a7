"""The guide as it is shown and searched, in both languages."""

from __future__ import annotations

from django.utils import translation

from desk.pages.guide import found_in_guide, help_for, marked, shown_page


def titles(words: str) -> list[str]:
    return [page["title"] for page in found_in_guide(words)]


def test_a_screen_word_is_set_apart_in_the_words_of_the_screen():
    assert marked("Press {Fine}, then < go.") == "Press <strong>Fine</strong>, then &lt; go."
    with translation.override("es-mx"):
        assert "{" not in marked("{Fine}")
        assert marked("{Fine}") != "<strong>Fine</strong>"


def test_a_page_of_the_guide_itself_has_no_question_mark():
    assert help_for("desk:guide-page") == {}
    assert help_for("inventory:inspect") == {"code": "inspect", "title": "How to inspect"}


def test_a_search_finds_by_title_first_then_by_words():
    assert titles("inspect")[0] == "How to inspect"
    assert titles("blind count") == ["Count the instruments"]
    assert titles("PASSKEY") == ["Your log-in"]
    assert titles("xyzzy") == titles(" ") == titles("?") == []


def test_a_search_in_spanish_needs_no_accents():
    with translation.override("es-mx"):
        assert shown_page("inspect")["language"] == "es"
        assert shown_page("inspect")["title"] in titles("revision")
