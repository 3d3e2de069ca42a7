"""What scripts say comes from templates, marked for translation, and each page brings the words of its scripts."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.template.loader import render_to_string

SCRIPTS = Path(settings.BASE_DIR) / "static" / "js"
PAGES = Path(settings.BASE_DIR) / "templates"
FILES = sorted(SCRIPTS.glob("*.js"))
LITERAL = re.compile(
    r"//[^\n]*|/\*.*?\*/|(?P<compared>[!=]==\s*)?(?P<text>\"(?:\\.|[^\"\\\n])*\"|'(?:\\.|[^'\\\n])*'|`(?:\\.|[^`\\])*`)",
    re.DOTALL,
)
SAY = re.compile(r"\bsay\((?:[^()]|\((?:[^()]|\([^()]*\))*\))*\)")
KEY = re.compile(r'"([a-z]+(?:-[a-z]+)*)"')
SHOWN = re.compile(
    r"(?:\b(?:textContent|placeholder)\s*[:=]|\b(?:announce|trouble)\()(.*?)(?:[;}]|,\s*\w+:|$)", re.DOTALL
)
HEADERS = {"Accept", "Content-Type", "Content-Security-Policy", "Cache-Control", "Retry-After"}
NAMES = {"Enter", "Escape", "ArrowDown", "ArrowUp"} | HEADERS  # of keys and of headers


def texts(script: str) -> list[str]:
    """Return the text of each string of a script that is not merely compared with."""
    found = [match for match in LITERAL.finditer(script) if match["text"] and not match["compared"]]
    return [match["text"][1:-1] for match in found]


def without_facts(script: str) -> str:
    """Leave out of each template string what is filled in, and of the rest what an element is found by."""
    script, before = re.sub(r"\$\(\s*[\"'][^\"']*[\"']", "$(", script), ""
    while script != before:
        before, script = script, re.sub(r"\$\{[^{}`]*(?:`[^`]*`[^{}`]*)*\}", "", script)
    return script


def english(script: str) -> list[str]:
    """Return the strings of a script that a person would read: what is shown, and what is written like a sentence."""
    rest = SAY.sub("said", without_facts(script))
    shown = [text for match in SHOWN.finditer(rest) for text in texts(match[1]) if re.search(r"[A-Za-z]{2}", text)]
    written = [
        text
        for text in texts(rest)
        if text not in NAMES and re.search(r"(?<![\w.-])[A-Z][a-z]+\b|\b[a-z']+ [a-z']+ [a-z']+\b", text)
    ]
    return shown + written


@pytest.mark.parametrize("file", FILES, ids=lambda path: path.name)
def test_no_script_holds_words_of_its_own(file):
    assert english(file.read_text()) == []


@pytest.mark.parametrize(
    "script",
    [
        'link.textContent = "Change";',
        'heard.textContent = quiet > QUIET ? "too quiet" : "";',
        'window.hornbook?.announce("cleared");',
        "line.textContent = `${left} kept on this phone`;",
        'stop("That was the last note.");',
        'return { refused: told.refused || "The server did not take this tap." };',
        'Object.assign(field, { type: "search", placeholder: "Type a name" });',
        "const words = `that sounds like your ${name}`;",
    ],
)
def test_words_in_a_script_are_found(script):
    assert english(script)


@pytest.mark.parametrize(
    "script",
    [
        'line.textContent = say(count === 1 ? "finding" : "findings", { count });',
        'if (event.key === "Escape") return; // Nobody sees this comment.',
        "const all = [...form.querySelectorAll('.note-states input[value=\"untried\"]:checked')];",
        'item.className = "link link-quiet";',
        'cents.textContent = "·";',
    ],
)
def test_what_nobody_reads_is_left_alone(script):
    assert english(script) == []


def with_imports(name: str) -> set[str]:
    found = {name}
    for other in re.findall(r'(?:from|import) "\./([\w-]+)\.js"', (SCRIPTS / f"{name}.js").read_text()):
        found |= with_imports(other)
    return found


def keys_of(name: str) -> set[str]:
    """Return what a script and all it imports ask to be said."""
    scripts = [(SCRIPTS / f"{one}.js").read_text() for one in with_imports(name)]
    said = [re.sub(r'[!=]==\s*"[^"]*"', "", match[0]) for script in scripts for match in SAY.finditer(script)]
    return {key for call in said for key in KEY.findall(call)}


def loaded() -> list[tuple[str, str]]:
    """Each page of ours with a script that it loads."""
    return sorted(
        (path.relative_to(PAGES).as_posix(), name)
        for path in PAGES.rglob("*.html")
        for name in re.findall(r"'js/([\w-]+)\.js'", path.read_text())
    )


@pytest.mark.parametrize(("page", "name"), loaded())
def test_a_page_brings_the_words_of_its_script_and_no_others(page, name):
    asked = keys_of(name)
    include = f'{{% include "components/words/{name}.html" %}}'
    assert (include in (PAGES / page).read_text()) is bool(asked)
    if asked:
        brought = render_to_string(f"components/words/{name}.html")
        assert set(re.findall(r'data-say="([\w-]+)"', brought)) == asked
