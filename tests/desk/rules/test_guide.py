"""The guide says what is on the screens, briefly, and every screen leads to a page of it.

Outside check: what the program says, from the file of its sentences, and the table of all addresses. How long a page may be is
our own choice, no source.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from babel.messages.pofile import read_po

from desk.rules.guide import FOLDER, PICTURE, SCREEN_WORD, codes, guide, guide_page, page_for, starts
from tests.permission_matrix import all_rows

ROOT = Path(__file__).resolve().parents[3]
MOST_WORDS = 250
STAFF = {name for name, row in all_rows().items() if row.permission}


@pytest.fixture(scope="module")
def sentences() -> set[str]:
    """Every sentence of a template or message that is marked for translation, as the screen has it."""
    with (ROOT / "locale" / "es" / "LC_MESSAGES" / "django.po").open("rb") as file:
        return {one.id for one in read_po(file, locale="es") if isinstance(one.id, str) and not one.context}


@pytest.fixture(scope="module")
def sources() -> str:
    apps = ("core", "inventory", "repairs", "loans", "desk")
    paths = [*(ROOT / "templates").rglob("*.html"), *(path for app in apps for path in (ROOT / app).rglob("*.py"))]
    return "\n".join(path.read_text("utf-8") for path in paths)


@pytest.mark.parametrize("language", ["en", "es-mx"])
def test_each_button_and_heading_of_the_guide_is_on_a_screen(language, sentences, sources):
    quoted = {word for page in guide(language=language) for line in page.lines for word in SCREEN_WORD.findall(line)}
    assert len(quoted) > 50
    assert quoted - sentences == set()
    assert [word for word in quoted if word not in sources] == []


@pytest.mark.parametrize("language", ["en", "es-mx"])
def test_each_page_is_short_and_has_no_brace_left_over(language):
    for page in guide(language=language):
        assert 40 <= len(re.findall(r"\w+", " ".join(page.lines))) <= MOST_WORDS, page.code
        assert not re.search(r"[{}]", SCREEN_WORD.sub("", " ".join(page.lines))), page.code


def test_every_screen_of_the_staff_leads_to_a_page():
    alone = {name for name in STAFF if page_for(name) is None}
    assert alone == {"desk:guide", "desk:guide-page", "desk:guide-pdf"}


def test_no_screen_is_named_that_is_not_there():
    assert [start for start in starts() if not any(name.startswith(start) for name in STAFF)] == []


def test_the_longest_start_counts():
    assert page_for("desk:count-settle") == "counting"
    assert page_for("desk:charge") == "give-back"
    assert page_for("desk:charge-loss") == "leaving"


def test_each_file_is_a_page_and_each_page_is_in_spanish_too():
    assert {path.stem for path in FOLDER.glob("*.yaml")} - {"screens"} == set(codes())
    assert {path.stem for path in (FOLDER / "es").glob("*.yaml")} == set(codes())
    assert {page.language for page in guide(language="es-mx")} == {"es"}


def test_a_language_without_the_guide_reads_it_in_english():
    assert guide_page("inspect", language="fr").language == "en"
    assert guide_page("inspect", language="../x").title == guide_page("inspect", language="en").title


def test_each_picture_is_there_in_both_languages_small_with_words_for_who_does_not_see_it():
    """How large they may be is our own choice, no source."""
    pages = [page for language in ("en", "es-mx") for page in guide(language=language)]
    shown = {page.picture: one.lines for page in pages for one in page.blocks if one.sort == PICTURE}
    files = {path.relative_to(ROOT / "static").as_posix(): path for path in (ROOT / "static/guide").rglob("*.webp")}
    assert set(shown) == set(files)
    assert {picture.replace("/es/", "/") for picture in shown} == {one for one in shown if "/es/" not in one}
    assert [picture for picture, lines in shown.items() if len(lines) != 1 or len(lines[0]) < 20] == []
    sizes = [path.stat().st_size for path in files.values()]
    assert max(sizes) <= 20_000
    assert sum(sizes) <= 700_000


@pytest.mark.parametrize("code", ["bench", "inspect", "care"])
def test_where_work_can_hurt_there_is_a_caution(code):
    """As the cautions of the steps say: local codes, policy and practice first. Common practice, no source."""
    assert "caution" in {block.sort for block in guide_page(code, language="en").blocks}
