"""The recipes of DEVELOPERS.md that change code, carried out on a copy of the project."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.plugins.template import copy_sqlite

ROOT = Path(__file__).resolve().parent.parent
# The first line of a block says in which file it goes, and behind which line.
BLOCK = re.compile(r"^```python\n# (\S+), after (\S+)\n(.*?)^```", re.MULTILINE | re.DOTALL)

ASKED = """
import json
from django.core.management import call_command
from django.utils import timezone

call_command("migrate", verbosity=0)

from core.models import Event, Revision, User
from desk.pages.history import sentence
from inventory.access import has_perm_at_school
from inventory.columns import COLUMNS
from inventory.forms.register import InstrumentForm
from inventory.models import District, Instrument, Role, School, StaffRole
from inventory.selectors.columns import export_header, export_rows, facts_of
from inventory.selectors.importing import guessed_columns, lines_of
from inventory.services.importing import begin_import, choose_columns, judge_more, publish_import, sample_rows
from inventory.services.registering import change_instrument

now = timezone.now()
District.objects.get_or_create(pk=1, defaults={"name": "Two Rivers"})
school = School.objects.create(code="ELM", name="Elm Street Middle")
user = User.objects.create_user("director", password="not a real one", name="Dana Director")
StaffRole.objects.create(user=user, role=Role.DIRECTOR, school=school)
tech = User.objects.create_user("tech", password="not a real one", name="Terry Tech")
StaffRole.objects.create(user=tech, role=Role.TECH, school=school)
asking = [(user, school), (user, School.objects.create(code="OAK", name="Oak Hill High")), (tech, school)]

data = b"Instrument,Make,Serial,Finish\\nTrumpet,Plain,1,silver plate\\nTrumpet,Plain,2," + b"x" * 90 + b"\\n"
batch = begin_import(school=school, data=data, filename="a.csv", actor=user, at=now).batch
guess = guessed_columns(school=school, header=batch.header, sample=sample_rows(batch))
choose_columns(batch=batch, choices=guess.choices, actor=user, at=now)
batch = judge_more(batch=batch, today=now.date())
first, second = lines_of(batch.rows.order_by("number"))
publish_import(batch=batch, actor=user, at=now, today=now.date())
instrument = Instrument.objects.get()
imported = instrument.finish
form = InstrumentForm({"finish": "lacquer"}, schools=[school], kind=instrument.kind, instrument=instrument)
field = form.fields["finish"]
asked = [str(field.label), str(field.help_text), field.max_length, "finish" in [bound.name for bound in form.more]]
assert form.is_valid(), form.errors
change_instrument(instrument=instrument, actor=user, at=now, finish=form.columns()["finish"])
instrument.refresh_from_db()
event = Event.objects.get(act="corrected")
(row,) = export_rows(Instrument.objects.all(), columns=COLUMNS, today=now.date())
print("ANSWER" + json.dumps({
    "shown": [first["more"], second["problems"]],
    "imported": imported,
    "asked": asked,
    "logged": [sorted(event.before["typed"]), sorted(event.after["typed"])],
    "kept": list(Revision.objects.filter(number=event.number).values_list("column", "before", "after")),
    "history": sentence(event),
    "fact": dict(facts_of(instrument, user=user))["Finish"],
    "exported": dict(zip(export_header(COLUMNS), row, strict=True))["Finish"],
    "may": [has_perm_at_school(who, "inventory.retire_instrument", at.pk) for who, at in asking],
}))
"""


@pytest.fixture(scope="module")
def project(tmp_path_factory, django_db_setup):
    """A copy of everything that is tracked, or would be, and a migrated database."""
    listed = subprocess.run(
        ["git", "ls-files", "-co", "--exclude-standard"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    folder = tmp_path_factory.mktemp("project")
    for name in listed.stdout.splitlines():
        if (ROOT / name).is_file() and not name.startswith(("tests/", "docs/")):
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(ROOT / name, folder / name)
    (folder / "var").mkdir(exist_ok=True)
    copy_sqlite(str(folder / "var" / "recipe.sqlite3"))
    return folder


def manage(project, *args):
    environment = {name: value for name, value in os.environ.items() if not name.startswith("HORNBOOK_")}
    environment |= {
        "DATABASE_URL": f"sqlite:///{project}/var/recipe.sqlite3",
        "HORNBOOK_VAR_DIR": str(project / "var"),
        "DJANGO_SETTINGS_MODULE": "config.settings",
    }
    return subprocess.run(
        [sys.executable, "manage.py", *args], cwd=project, env=environment, capture_output=True, text=True, check=False
    )


def blocks():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    return [(name, after, code) for name, after, code in BLOCK.findall(text)]


def carry_out(project, name, after, code):
    """Put the code behind the statement that begins with the word."""
    path = project / name
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    start = next(
        number for number, line in enumerate(lines) if re.match(rf'\s+(Column\()?"?{re.escape(after)}\b', line)
    )
    depth, end = 0, start
    for end in range(start, len(lines)):  # where the brackets are closed again
        depth += lines[end].count("(") - lines[end].count(")")
        if depth == 0:
            break
    path.write_text("".join([*lines[: end + 1], code, *lines[end + 1 :]]), encoding="utf-8")


@pytest.mark.drill
def test_a_column_takes_three_files_besides_its_test_and_a_permission_one(project):
    assert [name for name, _, _ in blocks()] == [
        "inventory/models/instruments.py",
        "inventory/columns.py",
        "inventory/access.py",
    ]
    model, declaration, permission = blocks()
    carry_out(project, *model)
    forgotten = manage(project, "check")
    assert forgotten.returncode != 0
    assert "Instrument.finish is not declared in inventory/columns.py" in forgotten.stderr

    carry_out(project, *declaration)
    carry_out(project, *permission)
    made = manage(project, "makemigrations", "inventory", "--name", "finish")
    assert made.returncode == 0, made.stderr
    assert "Add field finish to instrument" in made.stdout

    answered = manage(project, "shell", "--no-imports", "-c", ASKED)
    assert "ANSWER" in answered.stdout, answered.stderr
    assert json.loads(answered.stdout.partition("ANSWER")[2]) == {
        "shown": [
            ["Finish: silver plate", "School: ELM"],
            [["Finish", f"“{'x' * 39}…” is longer than 40 characters. Shorten it."]],
        ],
        "imported": "silver plate",
        "asked": ["Finish", "Lacquer, silver plate, bare brass.", 40, True],
        "logged": [["finish"], ["finish"]],
        "kept": [["finish", "silver plate", "lacquer"]],
        "history": "Corrected: finish",
        "fact": "lacquer",
        "exported": "lacquer",
        "may": [True, False, False],
    }
