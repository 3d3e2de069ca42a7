"""The docs name every environment variable, command, address and target, and nothing that is not there."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from django.apps import apps
from django.urls import URLPattern, URLResolver, get_resolver

ROOT = Path(__file__).resolve().parent.parent
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
ADDRESSES = (ROOT / "docs" / "addresses.md").read_text(encoding="utf-8")
VARIABLE = re.compile(r"\b(?:HORNBOOK_[A-Z_]*[A-Z]|DATABASE_URL)\b")
# Made by the set-up or by an installation, never committed.
MADE = {"static/vendor/", "built/"}
READERS = ("config/*.py", "scripts/*", "tests/plugins/*.py", "Makefile")


def read_variables() -> set[str]:
    """Names of variables in what reads the environment; settings of Django's are told apart by not being read by text."""
    found: set[str] = set()
    for pattern in READERS:
        for path in ROOT.glob(pattern):
            if path.is_file():
                found |= set(VARIABLE.findall(path.read_text(encoding="utf-8")))
    return found


def documented_variables() -> set[str]:
    return set(re.findall(r"^\| `([A-Z_]+)` \|", DEVELOPERS, re.MULTILINE))


def commands() -> set[str]:
    return {path.stem for path in ROOT.glob("*/management/commands/*.py") if not path.stem.startswith("_")}


def addresses(resolver: URLResolver, *, prefix: str = "/", space: str = "") -> Iterator[tuple[str, str]]:
    """Walk the resolver: (name with its namespace, route) of each page."""
    for entry in resolver.url_patterns:
        route = prefix + str(entry.pattern)
        if isinstance(entry, URLResolver):
            inner = ":".join(part for part in (space, entry.namespace) if part)
            yield from addresses(entry, prefix=route, space=inner)
        elif isinstance(entry, URLPattern):
            yield f"{space}:{entry.name}" if space else str(entry.name), route


def documented_addresses() -> dict[str, str]:
    return dict(re.findall(r"^\| `([\w:-]+)` \| `([^`]+)` \|", ADDRESSES, re.MULTILINE))


def test_no_page_holds_the_marks_of_a_merge():
    pages = [*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")]
    marked = re.compile(r"^(?:<<<<<<< |=======$|>>>>>>> )", re.MULTILINE)
    assert [page.name for page in pages if marked.search(page.read_text(encoding="utf-8"))] == []


def test_developers_page_lists_every_environment_variable():
    assert read_variables() - documented_variables() == set()


def test_developers_page_lists_no_variable_that_nothing_reads():
    plain = {"PORT", "HOST", "FRESH", "CI", "ROOM", "SIZE"}
    assert documented_variables() - read_variables() - plain == set()


def test_developers_page_lists_every_management_command():
    assert {name for name in commands() if f"manage.py {name}" not in DEVELOPERS} == set()


def test_docs_name_no_management_command_that_is_not_there():
    own = set(re.findall(r"^\| `manage\.py (\w+)", DEVELOPERS, re.MULTILINE))
    assert own - commands() == set()


def test_developers_page_lists_every_target_of_the_makefile():
    targets = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text(encoding="utf-8"), re.MULTILINE))
    assert {target for target in targets if f"`make {target}`" not in DEVELOPERS} == set()


def named_files(page: Path) -> set[str]:
    """Paths of our own that the page names in code; those with a placeholder in them are patterns."""
    folders = "|".join(path.name for path in ROOT.iterdir() if path.is_dir() and not path.name.startswith((".", "var")))
    return set(re.findall(rf"`((?:{folders})/[\w./-]+)`", page.read_text(encoding="utf-8"))) - MADE


def test_docs_name_no_file_that_is_not_there():
    pages = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *ROOT.glob("docs/**/*.md")]
    gone = {f"{page.name}: {name}" for page in pages for name in named_files(page) if not (ROOT / name).exists()}
    assert gone == set()


def test_addresses_page_lists_every_page_and_only_those():
    real = dict(addresses(get_resolver()))
    written = documented_addresses()
    missing = [f"| `{name}` | `{route}` | |" for name, route in real.items() if written.get(name) != route]
    assert missing == []
    assert written.keys() - real.keys() == set()


def test_every_relative_link_in_the_docs_leads_somewhere():
    pages = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "docs").rglob("*.md")]
    dead = [
        f"{page.relative_to(ROOT)}: {target}"
        for page in pages
        for target in re.findall(r"\]\(([^)#\s]+)", page.read_text(encoding="utf-8"))
        if not re.match(r"[a-z]+:", target) and not (page.parent / target).exists()
    ]
    assert dead == []


def offered_words() -> set[str]:
    """The label of every choice that a model of ours offers."""
    return {
        str(label)
        for app in ("core", "inventory", "repairs", "loans")
        for model in apps.get_app_config(app).get_models()
        for field in model._meta.concrete_fields
        for _, label in field.flatchoices
    }


def test_words_page_names_every_choice_a_model_offers():
    words = (ROOT / "docs" / "words.md").read_text(encoding="utf-8").casefold()
    missing = {label for label in offered_words() if not re.search(rf"\b{re.escape(label.casefold())}\b", words)}
    assert missing == set(), "say in docs/words.md what these mean"


def test_words_page_explains_each_word_once():
    page = (ROOT / "docs" / "words.md").read_text(encoding="utf-8")
    terms = re.findall(r"^\| ([^|]+?) \|", page, re.MULTILINE)
    words = [term for term in terms if term not in {"word", "---"}]
    assert len(words) > 80
    assert sorted(words) == sorted(set(words))


def test_look_page_lists_every_component():
    look = (ROOT / "docs" / "look.md").read_text(encoding="utf-8")
    components = {path.name.removesuffix(".html") for path in (ROOT / "templates" / "components").iterdir()}
    missing = {name for name in components if f"`{name}`" not in look and f"`{name}/`" not in look}
    assert missing == set(), "name them in docs/look.md"
