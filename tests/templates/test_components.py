"""Every shared piece renders from the variables its own comment lists, and says things by words and shape, not by color alone."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.paginator import Paginator
from django.template.loader import render_to_string
from django.test import RequestFactory

from desk.views.look import SAMPLES, make_table

FOLDER = Path(settings.BASE_DIR) / "templates" / "components"
NOT_FROM_US = {"csrf_token", "messages", "from", "the", "actions"}


def rendered(name: str, **changes: Any) -> str:
    request = RequestFactory().get("/instruments/")
    return render_to_string(f"components/{name}", SAMPLES[name] | changes, request=request)


def documented(name: str) -> str:
    found = re.match(r"\{% comment %\}(.*?)\{% endcomment %\}", (FOLDER / name).read_text(encoding="utf-8"), re.DOTALL)
    assert found, f"{name} does not begin with a comment that lists its variables"
    return found[1]


def test_every_component_has_a_sample_here():
    assert {path.name for path in FOLDER.glob("*.html")} == set(SAMPLES)


@pytest.mark.parametrize("name", SAMPLES)
def test_a_component_documents_the_variables_it_is_given(name):
    comment = documented(name)
    assert "Variable" in comment
    assert [key for key in SAMPLES[name] if not re.search(rf"\b{key}\b", comment)] == []


@pytest.mark.parametrize("name", SAMPLES)
def test_a_component_renders_whole_from_its_documented_variables(name):
    html = rendered(name)
    assert "style=" not in html
    assert "<script" not in html
    assert not re.search(r"\son[a-z]+=", html), "inline handlers are refused by the content security policy"
    assert "<b>" not in html, "text from people is escaped"


@pytest.mark.parametrize(
    "name", [name for name in SAMPLES if name not in {"field.html", "form.html", "filter_bar.html", "table.html"}]
)
def test_a_component_renders_with_nothing_given(name):
    render_to_string(f"components/{name}", {}, request=RequestFactory().get("/"))


@pytest.mark.parametrize(
    ("verdict", "word"),
    [
        ("plays", "Plays"),
        ("plays_with_limits", "Plays with limits"),
        ("does_not_play", "Does not play"),
        ("not_inspected", "Not inspected"),
        ("", "Not inspected"),
    ],
)
def test_a_verdict_is_a_sign_and_a_word(verdict, word):
    html = rendered("status_badge.html", verdict=verdict, text="")
    assert html.count("<svg") == 1
    assert f">{word}<" in html


def test_the_four_signs_differ_in_shape():
    shapes = {
        re.sub(r"v-\w+", "", rendered("status_badge.html", verdict=v, text="x"))
        for v in ("plays", "plays_with_limits", "does_not_play", "")
    }
    assert len(shapes) == 4


def test_a_reason_links_to_what_clears_it():
    html = rendered("readiness.html")
    assert re.search(r'<a href="/x/">Free it</a>', html)
    assert "Nothing is holding it back" in rendered("readiness.html", readiness="may_go_out", reasons=[])


def test_a_refused_field_points_to_its_help_and_its_error():
    html = rendered("field.html")
    ids = re.search(r'aria-describedby="([^"]+)"', html)
    assert ids
    assert all(f'id="{each}"' in html for each in ids[1].split())
    assert 'aria-invalid="true"' in html


def test_a_refused_form_says_that_nothing_was_saved():
    html = rendered("form.html")
    assert "Nothing was saved." in html
    assert 'name="csrfmiddlewaretoken"' in html
    assert html.count("<form") == 1


def test_sorted_columns_say_so_and_cells_carry_their_heading():
    html = rendered("table.html")
    assert 'aria-sort="descending"' in html
    assert 'data-label="Kind"' in html
    assert "3 instruments<span>, page 1 of 2</span>" in html
    assert 'rel="next"' in html


def test_going_to_another_sort_order_starts_at_the_first_page():
    html = rendered("table.html", table=make_table(page=2))
    assert all("page=1" in link for link in re.findall(r'<th[^>]*><a href="([^"]+)"', html))


def test_an_empty_table_says_what_to_do():
    html = rendered("table.html", table=make_table(rows=0))
    assert "<table" not in html
    assert "Add one." in html
    assert "No instrument fits" in rendered("table.html", table=make_table(rows=0), empty=None)


def test_an_empty_cell_is_marked_so_that_a_card_can_leave_it_out():
    assert html_cells(rendered("table.html"), "Due") == [True, True]


def html_cells(html: str, label: str) -> list[bool]:
    return ["data-empty" in cell for cell in re.findall(rf'<td data-label="{label}"[^>]*>', html)]


def test_a_caution_asks_only_until_it_is_acknowledged():
    assert "I am trained" in rendered("caution.html")
    assert "<form" not in rendered("caution.html", acknowledged="Read by R. Ames today")
    assert "Students never do this work" in rendered("caution.html")


def test_the_room_we_are_in_is_marked():
    nav = [{"label": "Instruments", "url": "/instruments/"}, {"label": "Loans", "url": "/loans/"}]
    assert rendered("nav_items.html", nav=nav).count('aria-current="page"') == 1


@pytest.mark.parametrize("name", sorted(path.name for path in (FOLDER.parent / "errors").glob("*.html")))
def test_an_error_page_says_what_happened_what_is_safe_and_what_to_do(name):
    html = render_to_string(f"errors/{name}", {"request_id": "r-1"})
    assert re.search(r"<h1>[^<]{8,}</h1>", html)
    assert "{%" not in html
    assert html.count("btn-main") == 1
    assert re.search(r"Nothing was changed|saved before is safe|is kept here|Check the number", html)


def test_the_pages_of_the_house_stand_without_anything_given():
    page = render_to_string("base.html", {}, request=RequestFactory().get("/"))
    for part in ('id="main"', 'id="live"', 'class="skip"', "viewport", '"code": "422", "swap": true'):
        assert part in page
    assert "htmx" not in render_to_string("public_base.html", {}, request=RequestFactory().get("/"))


def test_a_page_number_list_marks_the_one_shown():
    assert Paginator(range(3), 2).num_pages == 2
    assert re.search(r'aria-current="page">1<', rendered("table.html"))


def test_a_form_left_open_too_long_is_told_apart_from_a_missing_right():
    assert "open too long" in render_to_string("errors/stale.html", {})
    assert "your role does not allow this" in render_to_string("errors/403.html", {})
