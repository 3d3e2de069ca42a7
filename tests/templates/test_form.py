"""Templates are laid out to be read, and every word a person sees in them is marked for translation."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from django.conf import settings
from django.template.base import Lexer, TokenType

FOLDER = Path(settings.BASE_DIR) / "templates"
TEMPLATES = sorted(path for path in FOLDER.rglob("*") if path.suffix in {".html", ".css"})
PAGES = [path for path in TEMPLATES if path.suffix == ".html"]
COLUMNS = 120

SEEN_ATTRIBUTES = {
    "alt",
    "aria-label",
    "aria-roledescription",
    "data-label",
    "data-says",
    "label",
    "placeholder",
    "title",
}
NOT_WORDS = {
    "Hornbook",  # a name
    "SHA-256",  # the name of a method
    "HORNBOOK_PUBLIC_ADDRESS",  # a variable of the environment
    "°C",
    "×",
}
NOT_TEXT = {"script", "style"}
# Blocks and tags that hold no words: classes, markup of our own.
CLASSES = re.compile(r"block (main_class|body_class)\b")
# Arguments of an include that a person reads.
WORDS_PASSED_ON = re.compile(
    r"""\b(?:title|text|under|over|back|button|cancel|action|trouble|label)=(?P<quote>["'])(?P<words>.*?)(?P=quote)"""
)
WORDS_IN_FILTERS = re.compile(
    r"""\|(?:counted|default|default_if_none|yesno):(?P<quote>["'])(?P<words>.*?)(?P=quote)"""
)

SPACE_BEFORE_PUNCTUATION = re.compile(r"\n[ ]*(?:\{% (?:if|with|for)[^%]*%\}\s*)*[,;.:!?)](?=[\s{<]|$)")


def has_words(text: str) -> bool:
    for known in NOT_WORDS:
        text = text.replace(known, "")
    return re.search(r"[^\W\d_]", re.sub(r"&\w+;", "", text)) is not None


class Reader(HTMLParser):
    """Collects text and attributes with words in them."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.skipped = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.skipped += tag in NOT_TEXT
        self.found += [
            f'{name}="{value}"' for name, value in attrs if name in SEEN_ATTRIBUTES and has_words(value or "")
        ]

    def handle_endtag(self, tag: str) -> None:
        self.skipped -= tag in NOT_TEXT

    def handle_data(self, data: str) -> None:
        if not self.skipped and has_words(data):
            self.found.append(" ".join(data.split()))


def bare_words(source: str) -> list[str]:
    """Return the words in a template that no translation tag marks."""
    reader = Reader()
    markup: list[str] = []
    found: list[str] = []
    inside = ""  # of a tag whose content is not read as markup: its end
    for token in Lexer(source).tokenize():
        said = token.contents
        if token.token_type == TokenType.TEXT:
            if not inside:
                markup.append(said)
        elif token.token_type != TokenType.COMMENT:
            name = said.split()[0] if token.token_type == TokenType.BLOCK and said else ""
            if inside:
                inside = "" if name == inside else inside
            elif name in {"blocktranslate", "comment"}:
                inside = f"end{name}"
            elif CLASSES.match(said):
                inside = "endblock"
            if name not in {"translate", "load", "url", "static", "extends"}:
                patterns = (WORDS_IN_FILTERS, WORDS_PASSED_ON) if name == "include" else (WORDS_IN_FILTERS,)
                found += [
                    hit["words"] for pattern in patterns for hit in pattern.finditer(said) if has_words(hit["words"])
                ]
            # A line break keeps apart what the tag kept apart, and leaves the attribute around it whole.
            markup.append(" " if token.token_type == TokenType.BLOCK else "0")
    reader.feed("".join(markup))
    reader.close()
    return found + reader.found


def named(path: Path) -> str:
    return str(path.relative_to(FOLDER))


@pytest.mark.parametrize("path", TEMPLATES, ids=named)
def test_no_line_is_longer_than_the_page_is_wide(path):
    lines = path.read_text(encoding="utf-8").splitlines()
    assert [number for number, line in enumerate(lines, start=1) if len(line) > COLUMNS] == []


@pytest.mark.parametrize("path", PAGES, ids=named)
def test_every_word_is_marked_for_translation(path):
    assert bare_words(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", PAGES, ids=named)
def test_translated_blocks_are_trimmed(path):
    """An untrimmed block would carry its indentation into the catalog of a language."""
    source = path.read_text(encoding="utf-8")
    assert re.findall(r"\{% blocktranslate (?!trimmed\b|count [^%]* trimmed)[^%]*%\}", source) == []


@pytest.mark.parametrize("path", PAGES, ids=named)
def test_no_space_comes_before_punctuation(path):
    """The formatter breaks the line between a tag and the ``if`` after it, and the break shows before a comma."""
    source = re.sub(r"\{% comment %\}.*?\{% endcomment %\}", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    assert SPACE_BEFORE_PUNCTUATION.findall(source) == []


@pytest.mark.parametrize(
    "source",
    [
        "<p>Bare</p>",
        "<p>{% if a %}Bare{% endif %}</p>",
        '<a aria-label="Bare">{% translate "Marked" %}</a>',
        '<input placeholder="{% if a %}Bare{% endif %}">',
        '{% include "components/notice.html" with text="Bare" only %}',
        '{{ x|default:"Bare" }}',
        '{% with a=n|counted:"instrument" %}{{ a }}{% endwith %}',
        "{% block title %}Bare · Hornbook{% endblock %}",
        "<p>{{ number }} of 7</p>",
    ],
)
def test_bare_words_are_found(source):
    assert bare_words(source) != []


@pytest.mark.parametrize(
    "source",
    [
        '<p class="quiet">{% translate "Marked" %}, {{ value }} · 7 × 3</p>',
        "<p>{% blocktranslate trimmed %}Marked{% endblocktranslate %}</p>",
        "<p aria-label=\"{% translate 'Marked' %}\">{{ x|default:_('Marked') }}</p>",
        "{% comment %}Not seen{% endcomment %}{# nor this #}{% block main_class %}read{% endblock %}",
        '{% include "components/notice.html" with text=_("Marked") tone="stop" only %}',
        "<title>{% block title %}Hornbook{% endblock %}</title><script>let a = 'not read'</script>",
    ],
)
def test_marked_words_and_signs_pass(source):
    assert bare_words(source) == []
