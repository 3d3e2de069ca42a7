"""Everything that is read is there in Spanish: whole, with the same places to fill in, in words of the trade.

Outside checks: Babel's own comparison of placeholders; trade words that published Spanish pages get wrong, by
dictionaries and makers' and teachers' pages that agree on another word (docs/spanish.md names them).
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from babel.messages.pofile import read_po

ROOT = Path(__file__).resolve().parent.parent
FOLDER_OF_WORDS = ROOT / "locale" / "es" / "LC_MESSAGES"


def messages_of(name: str):
    with (FOLDER_OF_WORDS / f"{name}.po").open("rb") as file:
        return [message for message in read_po(file, locale="es") if message.id]


def forms(text) -> tuple[str, ...]:
    return text if isinstance(text, tuple) else (text,)


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
