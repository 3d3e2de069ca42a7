"""The question mark of a screen, the page it opens, and the guide on paper."""

from __future__ import annotations

import re

import pypdfium2
import pytest
from django.urls import reverse

from desk.rules.guide import codes, guide

pytestmark = [pytest.mark.django_db, pytest.mark.page]
SEARCH = reverse("desk:search")


def test_the_question_mark_opens_the_page_for_this_screen(client, director):
    client.force_login(director)
    screen = client.get(reverse("desk:give-back")).text
    address = re.search(r'class="help-link[^>]*href="([^"]+)"', screen)[1]
    assert address == reverse("desk:guide-page", args=["give-back"])
    page = client.get(address).text
    assert "<h1>Give-back, wear and damage</h1>" in page
    assert "<strong>To inspect</strong>" in page
    assert "help-link" not in page
    assert re.search(r'<img\s+src="[^"]*guide/give-back[^"]*\.webp"\s+alt="Give-back: a field', page)


def test_nobody_who_is_logged_out_sees_a_question_mark(client):
    assert "help-link" not in client.get(reverse("core:log-in")).text


def test_the_list_has_every_page_and_an_unknown_one_is_not_found(client, tech):
    client.force_login(tech)
    page = client.get(reverse("desk:guide")).text
    assert [code for code in codes() if reverse("desk:guide-page", args=[code]) not in page] == []
    assert client.get(reverse("desk:guide-page", args=["no-such"])).status_code == 404


def test_the_one_search_box_finds_the_guide(client, auditor):
    client.force_login(auditor)
    page = client.get(client.post(SEARCH, {"q": "sample audit"}).url).text
    assert reverse("desk:guide-page", args=["sampling"]) in page
    assert "Nothing found" not in page


def test_on_paper_it_has_every_page(client, director):
    client.force_login(director)
    answer = client.get(reverse("desk:guide-pdf"))
    assert answer.headers["Content-Type"] == "application/pdf"
    with pypdfium2.PdfDocument(answer.content) as document:
        pictures = sum(one.type == pypdfium2.raw.FPDF_PAGEOBJ_IMAGE for page in document for one in page.get_objects())
        text = " ".join(" ".join(page.get_textpage().get_text_range() for page in document).split())
    assert [page.title for page in guide(language="en") if page.title not in text] == []
    assert pictures == sum(block.sort == "picture" for page in guide(language="en") for block in page.blocks)
    assert len(answer.content) < 1_500_000
