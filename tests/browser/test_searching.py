"""Search for a student on a phone: the words are nowhere in what the browser keeps, and going back still works."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from tests.factories import make_student


@pytest.fixture
def students(transactional_db, school):
    for number in range(60):
        make_student(school=school, name=f"Lindqvist {number:02d}")
    make_student(school=school, name="Rosa Berg")


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
def test_a_search_goes_by_a_key_and_back_reload_sort_and_page_keep_it(students, director, open_page, script):
    page = open_page(user=director, java_script_enabled=script)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(f"{request.url} {request.headers.get('referer', '')}"))
    page.goto(reverse("loans:students"))

    def search(words: str, count: str) -> None:
        page.get_by_role("searchbox").fill(words)
        if not script:
            page.get_by_role("button", name="Show").click()
        page.get_by_text(count).first.wait_for()
        page.wait_for_url("**search=*")

    search("lindqvist", "60 students")
    first = page.url
    search("rosa b", "1 student")
    second = page.url
    assert first != second
    page.go_back()
    page.get_by_text("60 students").first.wait_for()
    assert page.url == first
    assert page.get_by_role("searchbox").input_value() == "lindqvist"
    page.get_by_role("link", name="Next", exact=True).click()
    page.get_by_text("page 2 of 2").wait_for()
    page.reload()
    page.get_by_text("page 2 of 2").wait_for()
    page.get_by_text("59, Lindqvist").wait_for()
    page.goto(second)
    page.get_by_role("link", name="Berg, Rosa").click()
    page.get_by_role("heading", name="Rosa Berg").wait_for()
    assert re.fullmatch(r"Student \d+ · Hornbook", page.title().strip())
    page.go_back()
    page.get_by_text("1 student").first.wait_for()
    assert not [one for one in asked if re.search("lindqvist|rosa", one, re.IGNORECASE)]
    if script:
        kept = page.evaluate("JSON.stringify([{...localStorage}, {...sessionStorage}, history.state])")
        assert not re.search("lindqvist|rosa", kept, re.IGNORECASE)
