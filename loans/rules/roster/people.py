"""The people of chosen courses: students, their guardians, the classes they are in. Nobody else is kept.

Read record by record, of a roster that was checked. What does not fit is left out, never an error.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Container, Iterator
from dataclasses import dataclass, field
from datetime import date

from loans.rules.roster.checking import Checked
from loans.rules.roster.problems import UnreadableError
from loans.rules.roster.rows import records
from loans.rules.roster.sources import Source
from loans.rules.roster.standard import BULK, DELTA, GOING, GUARDIAN_ROLES, STUDENT, file_name

SCHOOL = "school"
NEEDED = ("courses", "classes", "users", "enrollments")  # all of them whole, or nobody's absence means anything
Cells = dict[str, str]


@dataclass(frozen=True, slots=True)
class Place:
    """An organization of the roster, as schools are found by it."""

    sourced_id: str
    name: str
    identifier: str
    is_school: bool


@dataclass(frozen=True, slots=True)
class CourseRow:
    """A course to choose, with how many classes and students it has."""

    sourced_id: str
    title: str
    code: str
    classes: int
    students: int


@dataclass(frozen=True, slots=True)
class ClassRow:
    sourced_id: str
    title: str
    code: str
    periods: str


@dataclass(frozen=True, slots=True)
class GuardianRow:
    sourced_id: str
    name: str
    email: str
    phone: str


@dataclass(slots=True)
class StudentRow:
    """``guardians`` are sourcedIds in the order of the student's own list, ``classes`` the chosen ones."""

    sourced_id: str
    row: int
    name: str
    sort_name: str
    number: str
    grade: str
    guardians: list[str] = field(default_factory=list)
    classes: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Roster:
    """What a roster says of chosen courses.

    ``is_bulk``: who is not in it has left. ``gone`` are known people whom it deletes, ``dropped`` the enrollments, as
    (student, class), that it ends.
    """

    is_bulk: bool
    classes: dict[str, ClassRow] = field(default_factory=dict)
    students: dict[str, StudentRow] = field(default_factory=dict)
    guardians: dict[str, GuardianRow] = field(default_factory=dict)
    enrolled: dict[str, list[str]] = field(default_factory=dict)  # student -> chosen classes
    rows: dict[str, int] = field(default_factory=dict)  # student -> row of the first enrollment
    dropped: set[tuple[str, str]] = field(default_factory=set)
    gone: set[str] = field(default_factory=set)
    gone_classes: set[str] = field(default_factory=set)


def read_people(
    source: Source,
    checked: Checked,
    *,
    courses: Collection[str],
    today: date,
    orgs: Collection[str] | None = None,
    known_classes: Collection[str] = (),
    known_people: Collection[str] = (),
) -> Roster:
    """Read the people of these courses, only at these ``orgs`` if given.

    ``known_classes`` are classes of the courses and ``known_people`` students and guardians that an earlier roster
    brought: a file of changes names the rest by them alone.
    """
    reading = _Reading(source, checked)
    roster = Roster(is_bulk=all(checked.modes.get(name) == BULK for name in NEEDED))
    for _row, cells in reading.rows("classes", keeps_going=True):
        if cells["courseSourcedId"] not in courses and cells["sourcedId"] not in known_classes:
            continue
        if cells["status"] == GOING:
            roster.gone_classes.add(cells["sourcedId"])
        elif cells["courseSourcedId"] in courses and (orgs is None or cells["schoolSourcedId"] in orgs):
            roster.classes[cells["sourcedId"]] = _class(cells)
    wanted = set(roster.classes) | (set(known_classes) if checked.modes.get("classes") != BULK else set())
    wanted -= roster.gone_classes
    _enroll(reading, roster, wanted=wanted, today=today)
    _read_users(reading, roster, known_people=set(known_people))
    return roster


def places_of(source: Source, checked: Checked) -> dict[str, Place]:
    return {
        cells["sourcedId"]: Place(
            cells["sourcedId"], cells["name"].strip(), cells["identifier"].strip(), cells["type"] == SCHOOL
        )
        for _row, cells in _Reading(source, checked).rows("orgs")
    }


def titles_of_courses(source: Source, checked: Checked) -> dict[str, str]:
    """Return every course's title by its sourcedId; unlike ``courses_of`` it reads no other file."""
    return {cells["sourcedId"]: cells["title"].strip() for _row, cells in _Reading(source, checked).rows("courses")}


def courses_of(
    source: Source, checked: Checked, *, today: date, orgs: Collection[str] | None = None
) -> list[CourseRow]:
    """Return the courses that may be chosen, by title, those with students first; only those taught at ``orgs``."""
    reading = _Reading(source, checked)
    of_class: dict[str, str] = {}
    classes: Counter[str] = Counter()
    for _row, cells in reading.rows("classes"):
        if orgs is None or cells["schoolSourcedId"] in orgs:
            of_class[cells["sourcedId"]] = cells["courseSourcedId"]
            classes[cells["courseSourcedId"]] += 1
    students: Counter[str] = Counter()
    for _row, cells in reading.rows("enrollments", among=("classSourcedId", of_class)):
        if cells["role"] == STUDENT and not _is_over(cells, today):
            students[of_class[cells["classSourcedId"]]] += 1
    found = [
        CourseRow(
            sourced_id=cells["sourcedId"],
            title=cells["title"].strip(),
            code=cells["courseCode"].strip(),
            classes=classes[cells["sourcedId"]],
            students=students[cells["sourcedId"]],
        )
        for _row, cells in reading.rows("courses")
        if orgs is None or cells["sourcedId"] in classes
    ]
    return sorted(found, key=lambda course: (not course.students, course.title.casefold(), course.sourced_id))


def orgs_of_classes(source: Source, checked: Checked, *, courses: Collection[str]) -> dict[str, int]:
    """Return where classes of these courses are taught, each with the row of the first class there."""
    found: dict[str, int] = {}
    for row, cells in _Reading(source, checked).rows("classes"):
        if cells["courseSourcedId"] in courses:
            found.setdefault(cells["schoolSourcedId"], row)
    return found


class _Reading:
    """Rows as mappings of the standard's columns; "" for what a row lacks."""

    def __init__(self, source: Source, checked: Checked) -> None:
        self._source, self._checked = source, checked

    def rows(
        self, name: str, *, keeps_going: bool = False, among: tuple[str, Container[str]] | None = None
    ) -> Iterator[tuple[int, Cells]]:
        """Yield (row, cells) without those to be deleted, unless they are wanted too.

        ``among`` is a column and what it must hold: of a district's rows a school wants few.
        """
        if name not in self._checked.modes:
            return
        blank = dict.fromkeys([column.name for column in self._checked.standard.files[name]], "")
        try:
            with self._source.open(file_name(name)) as stream:
                header, place = list[str](), -1
                for record in records(stream):
                    if record.number == 1:
                        header = record.cells
                        place = header.index(among[0]) if among and among[0] in header else -1
                        continue
                    if among and (place < 0 or len(record.cells) <= place or record.cells[place] not in among[1]):
                        continue
                    cells = blank | dict(zip(header, record.cells, strict=False))
                    if keeps_going or cells["status"] != GOING:
                        yield record.number, cells
        except UnreadableError:
            return

    def is_delta(self, name: str) -> bool:
        return self._checked.modes.get(name) == DELTA


def _enroll(reading: _Reading, roster: Roster, *, wanted: set[str], today: date) -> None:
    for row, cells in reading.rows("enrollments", keeps_going=True, among=("classSourcedId", wanted)):
        if cells["role"] != STUDENT:
            continue
        user, group = cells["userSourcedId"], cells["classSourcedId"]
        if cells["status"] == GOING or _is_over(cells, today):
            roster.dropped.add((user, group))
            continue
        roster.rows.setdefault(user, row)
        groups = roster.enrolled.setdefault(user, [])
        if group not in groups:
            groups.append(group)
    # Moved and back again in one file: what is there counts.
    roster.dropped -= {(user, group) for user, groups in roster.enrolled.items() for group in groups}


def _read_users(reading: _Reading, roster: Roster, *, known_people: set[str]) -> None:
    """Read the students first, then, now that it is known who they are, their guardians."""
    listed: dict[str, list[str]] = {}  # student -> whom the student's row names
    wanted = roster.enrolled.keys() | known_people
    for row, cells in reading.rows("users", keeps_going=True, among=("sourcedId", wanted)):
        user = cells["sourcedId"]
        if cells["status"] == GOING:
            roster.gone.add(user)
        elif user in roster.enrolled or reading.is_delta("users"):
            roster.students[user] = _student(row, cells, roster.enrolled.get(user, []))
            listed[user] = _ids(cells["agentSourcedIds"])
    _read_guardians(reading, roster, listed=listed, known_people=known_people)
    for user in roster.guardians:  # known as a guardian, not as a student
        roster.students.pop(user, None)
    # A file of changes need not hold a guardian who stays as before.
    kept = set(roster.guardians) | (known_people - roster.gone if reading.is_delta("users") else set())
    for user, student in roster.students.items():
        student.guardians = [agent for agent in dict.fromkeys(listed[user]) if agent in kept]


def _read_guardians(reading: _Reading, roster: Roster, *, listed: dict[str, list[str]], known_people: set[str]) -> None:
    """Read whom students name, and who names students: the standard ties them together from either side."""
    named = {agent for agents in listed.values() for agent in agents}
    guardians = reading.rows("roles", among=("role", GUARDIAN_ROLES))
    by_roles = {cells["userSourcedId"] for _row, cells in guardians}
    for _row, cells in reading.rows("users"):
        user = cells["sourcedId"]
        children = [child for child in _ids(cells["agentSourcedIds"]) if child in roster.students]
        if user in roster.enrolled or not (user in named or children or user in known_people):
            continue
        if user not in by_roles and cells.get("role", "") not in GUARDIAN_ROLES:
            continue
        for child in children:
            listed[child].append(user)
        roster.guardians[user] = GuardianRow(
            sourced_id=user,
            name=_words(cells["givenName"], cells["familyName"]),
            email=cells["email"].strip(),
            phone=cells["phone"].strip() or cells["sms"].strip(),
        )


def _student(row: int, cells: Cells, classes: list[str]) -> StudentRow:
    given = cells.get("preferredGivenName", "").strip() or cells["givenName"]
    family = cells.get("preferredFamilyName", "").strip() or cells["familyName"]
    return StudentRow(
        sourced_id=cells["sourcedId"],
        row=row,
        name=_words(given, family),
        sort_name=", ".join(filter(None, [_words(family), _words(given)])),
        number=cells["identifier"].strip(),
        grade=_grade(cells["grades"]),
        classes=classes,
    )


def _class(cells: Cells) -> ClassRow:
    return ClassRow(
        sourced_id=cells["sourcedId"],
        title=_words(cells["title"]),
        code=cells["classCode"].strip(),
        periods=cells["periods"].strip(),
    )


def _grade(grades: str) -> str:
    """Return the last grade listed, as people say it: 9 rather than 09."""
    last = grades.rpartition(",")[2].strip()
    return last.lstrip("0") if last.isdecimal() else last


def _ids(text: str) -> list[str]:
    return [part for part in text.split(",") if part]


def _is_over(cells: Cells, today: date) -> bool:
    try:
        return bool(cells["endDate"]) and date.fromisoformat(cells["endDate"]) < today
    except ValueError:
        return False


def _words(*texts: str) -> str:
    return " ".join(" ".join(texts).split())
