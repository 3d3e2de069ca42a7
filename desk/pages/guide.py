"""A page of the guide with the words of the screens in the reader's language, and what a search finds in it."""

from __future__ import annotations

import re
from typing import Any

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import get_language, gettext

from core.accents import without_accents
from desk.rules.guide import PICTURE, SCREEN_WORD, GuidePage, guide, guide_page, page_for

MOST_FOUND = 4


def language() -> str:
    return get_language() or "en"


def shown(page: GuidePage) -> dict[str, Any]:
    blocks = [
        {"sort": one.sort, "picture": page.picture, "words": plain(one.lines[0])}
        if one.sort == PICTURE
        else {"sort": one.sort, "lines": [marked(line) for line in one.lines]}
        for one in page.blocks
    ]
    return {"code": page.code, "title": page.title, "language": page.language, "blocks": blocks}


def plain(line: str) -> str:
    """Return the line as text, each word of a screen as the screen has it."""
    return SCREEN_WORD.sub(lambda found: gettext(found[1]), line)


def marked(line: str) -> SafeString:
    """Return the line as HTML, each word of a screen as the screen has it."""
    parts = SCREEN_WORD.split(line)
    return format_html_join("", "{}", ((_part(part, is_word=bool(at % 2)),) for at, part in enumerate(parts)))


def _part(text: str, *, is_word: bool) -> str:
    return format_html("<strong>{}</strong>", gettext(text)) if is_word else text


def help_for(view_name: str) -> dict[str, str]:
    """Return what the question mark of a screen opens; nothing where there is no help, as in the guide itself."""
    code = page_for(view_name)
    if code is None:
        return {}
    page = guide_page(code, language=language())
    return {"code": code, "title": page.title}


def shown_page(code: str) -> dict[str, Any]:
    """KeyError if there is no such page."""
    return shown(guide_page(code, language=language()))


def whole_guide() -> list[dict[str, Any]]:
    return [shown(page) for page in guide(language=language())]


def found_in_guide(words: str) -> list[dict[str, Any]]:
    """Return the pages that hold every word, those first whose title does."""
    wanted = re.findall(r"\w+", without_accents(words))
    if not wanted:
        return []
    fits = []
    for page in guide(language=language()):
        title = without_accents(page.title)
        text = without_accents(" ".join((page.title, page.also, *map(plain, page.lines))))
        if all(re.search(rf"\b{word}", text) for word in wanted):
            fits.append((not all(word in title for word in wanted), page))
    fits.sort(key=lambda one: one[0])
    return [{"code": page.code, "title": page.title, "language": page.language} for _, page in fits[:MOST_FOUND]]
