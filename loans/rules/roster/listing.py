"""A plain list of students, as a spreadsheet has it: what its columns hold, and whom it names.

The headings are those that offices' and directors' own lists have; common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from core.cells import Cell, CellTrouble, SheetRow
from core.translation import gettext as _
from core.translation import gettext_noop
from loans.rules.people import sort_name_of
from loans.rules.roster.people import GuardianRow, Roster, StudentRow
from loans.rules.roster.problems import Problem, Problems

FIELD_WORDS: Final = {
    "name": gettext_noop("Student's name"),
    "given": gettext_noop("First name"),
    "family": gettext_noop("Last name"),
    "grade": gettext_noop("Grade"),
    "number": gettext_noop("Student number"),
    "guardian": gettext_noop("Guardian's name"),
    "guardian_email": gettext_noop("Guardian's email"),
    "guardian_phone": gettext_noop("Guardian's phone"),
    "guardian_2": gettext_noop("Second guardian's name"),
    "guardian_2_email": gettext_noop("Second guardian's email"),
    "guardian_2_phone": gettext_noop("Second guardian's phone"),
}
_OF_GUARDIAN = r"(?:parents?|parent(?: guardian)?|guardians?|family|mother|father|contact)"
_FIRST, _SECOND = r"(?: (?:1|one))?", r" (?:2|two)"
_MAIL, _CALL = r"e ?mail(?: address)?", r"(?:phone|cell|mobile|telephone)(?: number)?"
_KNOWN: Final = {
    "given": re.compile(r"(?:student )?(?:first|given|preferred)(?: name)?|first name student"),
    "family": re.compile(r"(?:student )?(?:last|family)(?: name)?|surname|last name student"),
    "name": re.compile(r"(?:student|pupil|full|student full)(?: name)?|name|name of student|students"),
    "grade": re.compile(r"(?:student )?(?:grade|gr|grade level|year level|class of)"),
    "number": re.compile(r"(?:student )?(?:id|number|no|id number|identifier|card|card number|local id)"),
    "guardian_2_email": re.compile(rf"{_OF_GUARDIAN}{_SECOND} {_MAIL}|second {_OF_GUARDIAN} {_MAIL}"),
    "guardian_2_phone": re.compile(rf"{_OF_GUARDIAN}{_SECOND} {_CALL}|second {_OF_GUARDIAN} {_CALL}"),
    "guardian_2": re.compile(rf"{_OF_GUARDIAN}{_SECOND}(?: (?:full )?name)?|second {_OF_GUARDIAN}(?: name)?"),
    "guardian_email": re.compile(rf"{_OF_GUARDIAN}{_FIRST} {_MAIL}|home email"),
    "guardian_phone": re.compile(rf"(?:{_OF_GUARDIAN}{_FIRST}|home) {_CALL}|phone|cell"),
    "guardian": re.compile(rf"{_OF_GUARDIAN}{_FIRST}(?: (?:full )?name)?"),
}
_GRADE = re.compile(r"(?:grade|gr\.?)?\s*0*(\d{1,2})\s*(?:st|nd|rd|th)?(?:\s+grade)?", re.IGNORECASE)
LONGEST_GRADE: Final = 10


def _plain(heading: str) -> str:
    text = heading.casefold().replace("'s", "").replace("’s", "").replace("#", " number ")
    return " ".join(re.sub(r"[^a-z0-9]+", " ", text).split())


def _field_of(heading: str) -> str:
    plain = _plain(heading)
    return next((field for field, known in _KNOWN.items() if known.fullmatch(plain)), "")


def is_heading(text: str) -> bool:
    return bool(_field_of(text))


def guess_fields(header: Sequence[str]) -> dict[int, str]:
    """Return what each column seems to hold; a field once, "" where nothing is known."""
    guessed: dict[int, str] = {}
    for index, heading in enumerate(header):
        field = _field_of(heading)
        guessed[index] = "" if field in guessed.values() else field
    return guessed


def read_list(rows: Iterable[SheetRow], columns: Mapping[int, str]) -> tuple[Roster, tuple[Problem, ...]]:
    """Read students and guardians; each row without what a student needs is a problem."""
    roster, problems = Roster(is_bulk=False), Problems()
    for row in rows:
        fields = {field: _text(row.cells, index) for index, field in columns.items() if field}
        for index, field in columns.items():
            if field and index < len(row.cells) and isinstance(row.cells[index], CellTrouble):
                problems.add(_("The list"), row.number, _(FIELD_WORDS[field]), _("The cell cannot be read."))
        _take(row.number, fields, roster, problems)
    return roster, problems.all()


def _take(number: int, fields: Mapping[str, str], roster: Roster, problems: Problems) -> None:
    name, sort_name = _names(fields)
    grade = _grade(fields.get("grade", ""))
    if not name:
        problems.add(_("The list"), number, _(FIELD_WORDS["name"]), _("There is no name in this row."))
    elif not grade or len(grade) > LONGEST_GRADE:
        problems.add(_("The list"), number, _(FIELD_WORDS["grade"]), _("There is no grade in this row."))
    else:
        key = f"row-{number}"
        student = StudentRow("", number, name, sort_name, fields.get("number", ""), grade)
        for place in ("guardian", "guardian_2"):
            guardian, email, phone = (fields.get(field, "") for field in (place, f"{place}_email", f"{place}_phone"))
            if guardian or email or phone:
                agent = f"{key}-{place}"
                roster.guardians[agent] = GuardianRow("", guardian, email, phone)
                student.guardians.append(agent)
        roster.students[key] = student


def _names(fields: Mapping[str, str]) -> tuple[str, str]:
    """Return a name as people say it and as lists sort it, whichever way it was written."""
    given, family, whole = (" ".join(fields.get(field, "").split()) for field in ("given", "family", "name"))
    if not (given or family) and whole.count(",") == 1:
        family, given = (part.strip() for part in whole.split(","))
    if given and family:
        return f"{given} {family}", f"{family}, {given}"
    name = whole or given or family
    return name, sort_name_of(name)


def _grade(text: str) -> str:
    found = _GRADE.fullmatch(text.strip())
    return found[1] if found else text.strip()


def _text(cells: Sequence[Cell], index: int) -> str:
    return str(cells[index]).strip() if index < len(cells) else ""
