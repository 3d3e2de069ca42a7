"""Everything that is read is there in Spanish: whole, with the same places to fill in, in words of the trade.

Outside checks: Babel's own comparison of placeholders; trade words that published Spanish pages get wrong, by
dictionaries and makers' and teachers' pages that agree on another word (docs/spanish.md names them).
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest
from babel.messages.pofile import read_po
from django.forms.forms import BaseForm
from django.urls import get_resolver
from django.utils.functional import Promise
from django_tables2 import Table

ROOT = Path(__file__).resolve().parent.parent
FOLDER_OF_WORDS = ROOT / "locale" / "es" / "LC_MESSAGES"


@cache
def messages_of(name: str):
    with (FOLDER_OF_WORDS / f"{name}.po").open("rb") as file:
        return [message for message in read_po(file, locale="es") if message.id]


def forms(text) -> tuple[str, ...]:
    return text if isinstance(text, tuple) else (text,)


APPS = ("core.", "inventory.", "repairs.", "loans.", "desk.")


def below(base: type) -> list[type]:
    """The classes of the program made of this one, but for the page of samples that only debugging serves."""
    found, rest = [], [base]
    while rest:
        found += (more := rest.pop().__subclasses__())
        rest += more
    return [
        one for one in dict.fromkeys(found) if one.__module__.startswith(APPS) and one.__module__ != "desk.views.look"
    ]


@pytest.mark.parametrize("name", ["django", "catalog"])
def test_each_message_has_all_its_forms(name):
    assert [one.id for one in messages_of(name) if not all(forms(one.string))] == []


def test_each_translation_fills_in_what_the_original_does():
    wrong = [one.id for one in messages_of("django") if list(one.check())]
    assert wrong == []


@pytest.mark.drill
def test_no_sentence_of_the_program_is_left_out(tmp_path):
    """``makemessages`` finds what is marked; all of it is in the file of Spanish."""
    copy = tmp_path / "copy"
    leave = shutil.ignore_patterns(
        ".git", ".venv", "var", "node_modules", "static", "tests", "locale", "__pycache__", ".*"
    )
    shutil.copytree(ROOT, copy, ignore=leave)
    (copy / "locale").mkdir()
    command = [sys.executable, "manage.py", "makemessages", "-l", "es", "--no-location"]
    subprocess.run(command, cwd=copy, check=True, capture_output=True)
    with (copy / "locale/es/LC_MESSAGES/django.po").open("rb") as file:
        found = {(one.context, one.id) for one in read_po(file) if one.id}
    assert sorted(map(str, found - {(one.context, one.id) for one in messages_of("django")})) == []


# Forms and modules whose words the page itself puts beside what they read: buttons, rows to select, answers of a walk; or ``__init__``.
WRITTEN_BY_THE_PAGE = {
    "inventory.forms.inspecting", "AccessoryCounts", "AuthenticationForm", "CareDoneForm", "ClassStudentsForm",
    "ClosePurchaseForm", "ExamineForm", "FindingForm", "KeyForm", "LeaversForm", "ListedForm", "MergeStudentForm", "ProveForm", "ReportForm", "SettleForm",
    "SignByLinkForm", "SigningFields", "StartForm", "StartSeasonForm", "StartedForm", "StepForm", "StepTapForm",
    "TakeBackForm", "ToCleanForm", "WhereaboutsForm",
}  # fmt: skip


def test_each_label_of_a_form_and_heading_of_a_table_is_marked_and_said_in_spanish():
    """Without a label Django makes one of the field's English name, which nothing marks for translation."""
    get_resolver().url_patterns  # noqa: B018 - imports every form and table that a page shows
    known = {one for message in messages_of("django") for one in forms(message.id)}
    shown = [
        (f"{form.__module__}.{form.__name__}.{name}", field.label)
        for form in below(BaseForm)
        for name, field in form.base_fields.items()
        if not (
            field.widget.is_hidden
            or any(
                WRITTEN_BY_THE_PAGE & {made.__module__, made.__name__}
                for made in form.__mro__
                if name in getattr(made, "declared_fields", {})
            )
        )
    ] + [
        (f"{table.__module__}.{table.__name__}.{name}", column.verbose_name)
        for table in below(Table)
        for name, column in table.base_columns.items()
    ]
    assert len(shown) > 200
    assert [where for where, words in shown if not isinstance(words, Promise) or str(words) not in known] == []


CODE = re.compile(r"(?<!manage\.py )\b[a-z]+_[a-z]\w*")


@pytest.mark.parametrize("name", ["django", "catalog"])
def test_no_sentence_shows_a_name_of_the_code(name):
    """Nor does a word of the catalog: a setting or a fault is named by its words. The name of a command may stand."""
    said = [
        re.sub(r"%\(\w+\)|\{\w+\}", "", text)
        for one in messages_of(name)
        for text in (*forms(one.id), *forms(one.string))
    ]
    assert [text for text in said if CODE.search(text)] == []


# What machines make of English part names, seen on published pages; the second word is what teachers and makers say.
WRONG = {
    "tubo de plomo": "tudel (leadpipe)",
    "diapositiva": "bomba (slide)",
    "tobogán": "bomba (slide)",
    "portaobjetos": "bomba (slide)",
    "aparatos ortopédicos": "soportes (braces)",
    "ligadura": "abrazadera (ligature)",
    "articulación superior": "cuerpo superior (upper joint)",
}


@pytest.mark.parametrize("name", ["django", "catalog"])
def test_no_part_is_called_what_a_machine_would_call_it(name):
    said = [text.lower() for one in messages_of(name) for text in forms(one.string)]
    assert [(word, text) for word in WRONG for text in said if word in text] == []
