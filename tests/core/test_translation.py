"""Sentences are marked for translation; those of rules are translated without the rules knowing Django."""

import ast
import builtins
import re
from collections.abc import Iterator
from decimal import Decimal
from gettext import NullTranslations
from pathlib import Path

import pytest
from django.utils import translation

from core.translation import gettext, gettext_noop, ngettext, translate_by
from inventory.rules.readiness import ReadinessFacts, readiness
from repairs.rules.facts import Outcome
from repairs.rules.quantities import use_words
from tests.test_architecture import ROOT, sources

MARKS = {"_", "gettext", "gettext_lazy", "gettext_noop", "ngettext", "ngettext_lazy"}
DATA = {"frozenset", "dict.fromkeys", "re.compile", "re.sub"}  # what they take is looked for, never shown
SENTENCE = re.compile(r"[A-Za-z](?:[A-Za-z]|'s|[a-z][,:;]) [A-Za-z{%“]")


def unmarked(source: str) -> Iterator[str]:
    """Yield what reads like a sentence outside the marks.

    Docstrings are none, nor sets of words to look for, nor what Python's own exceptions tell a programmer.
    """
    seen: set[ast.AST] = set()
    for node in ast.walk(ast.parse(source)):
        called = ast.unparse(node.func) if isinstance(node, ast.Call) else ""
        is_docstring = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
        is_left = called in MARKS | DATA or (hasattr(builtins, called) and called.endswith("Error"))
        if is_left or is_docstring or isinstance(node, ast.Set):
            seen.update(one for one in ast.walk(node) if one is not node)
        if isinstance(node, ast.JoinedStr):  # what is between its braces is looked at by itself
            seen.update(node.values)
        if node in seen:
            continue
        if isinstance(node, ast.JoinedStr):
            text = "".join(part.value if isinstance(part, ast.Constant) else "{}" for part in node.values)
        else:
            text = node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else ""
        if SENTENCE.search(text):
            yield text


SPEAKING = {"rules", "pages", "forms"}  # layers that make sentences and next to nothing else


def speaking_modules() -> list[Path]:
    found = sources("inventory", "loans", "repairs", "desk")
    return [path for path in found if not SPEAKING.isdisjoint(path.with_suffix("").parts)]


@pytest.mark.parametrize("path", speaking_modules(), ids=str)
def test_sentences_are_marked(path):
    found = list(unmarked((ROOT / path).read_text("utf-8")))
    assert found == [], "wrap them in gettext (in rules that of core.translation), with %(name)s for what is filled in"


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ('"""A module\'s own words."""', []),
        ("word = 'low_c'", []),
        ("words = 'It does not play.'", ["It does not play."]),
        ("words = f'{count} notes are lost'", ["{} notes are lost"]),
        ("words = f'first: {names}'", ["first: {}"]),
        ("words = 'a shop\\'s work'", ["a shop's work"]),
        ("words = f'{name} {\"is done\" if is_done else how}'", ["is done"]),
        ("words = _('It does not play.')", []),
        ("words = f'{_(\"Still stuck.\")} {rest}'", []),
        ("words = ngettext('%(number)s note is off', '%(number)s notes are off', count)", []),
        ("raise ValueError('no such level')", []),
        ("raise UnreadableError('is not a year')", ["is not a year"]),
        ("nothing = frozenset(['not known'])", []),
    ],
)
def test_the_net_catches_what_is_not_marked(source, found):
    assert list(unmarked(source)) == found


class Quoted(NullTranslations):
    """A language that knows every message: the English, in quotes."""

    def gettext(self, message: str) -> str:
        return f"«{message}»"

    def ngettext(self, singular: str, plural: str, number: int) -> str:
        return f"«{singular if number == 1 else plural}»"


@pytest.fixture
def quoted():
    translate_by(Quoted())
    yield
    translate_by(translation)


def test_a_rule_says_its_reasons_in_the_language_installed(quoted):
    answer = readiness(ReadinessFacts(verdict="not_inspected", whereabouts="gone", open_reports=2))
    assert [reason.text for reason in answer.reasons] == [
        "«It has left the district.»",
        "«Nobody has inspected it.»",
        "«2 problems were reported and not looked at.»",
    ]


def test_what_is_marked_as_a_constant_is_translated_where_it_is_used(quoted):
    assert Outcome.STILL_STUCK.words == "«still stuck»"
    assert use_words(Decimal("0.5"), unit="can", name="valve oil") == "««half a can» of valve oil»"


def test_the_app_installs_the_language_that_django_has_active():
    with translation.override("de"):
        assert gettext("January") == "Januar"
    assert gettext("January") == "January"


def test_without_a_catalog_a_sentence_stays_as_written():
    assert gettext("%(low)s to %(high)s days", low=1, high=3) == "1 to 3 days"
    assert gettext("100% sure") == "100% sure"
    assert ngettext("%(number)s day", "%(number)s days", 1) == "1 day"
    assert gettext_noop("It is at a shop.") == "It is at a shop."
