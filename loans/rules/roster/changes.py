"""What a roster would change: who is new, who has changed, who has left; nothing is written here.

Students are found again by sourcedId, then by number, then by name where somebody said that it is the same student.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

from core.translation import gettext as _
from loans.rules.people import contact_parts
from loans.rules.roster.people import GuardianRow, Roster, StudentRow
from loans.rules.roster.problems import Problem, Problems

USERS: Final = "users.csv"
LONGEST_NAME, LONGEST_NUMBER, LONGEST_CONTACT = 120, 40, 200
COLUMNS: Final = ("name", "sort_name", "number", "grade", "sourced_id")


@dataclass(frozen=True, slots=True)
class PersonGuardian:
    """A guardian as kept, or as to be kept."""

    name: str = ""
    email: str = ""
    phone: str = ""
    contact: str = ""
    address: str = ""
    language: str = "en"
    sourced_id: str = ""


@dataclass(frozen=True, slots=True)
class Person:
    """A student as kept, or as to be kept. ``pk`` is 0 for who is new."""

    pk: int
    name: str
    sort_name: str
    number: str
    grade: str
    sourced_id: str
    guardians: tuple[PersonGuardian, ...] = ()
    has_left: bool = False
    is_off: bool = False  # an earlier roster no longer had the student
    is_out: bool = False  # has an instrument
    classes: frozenset[str] = frozenset()  # of the roster, that the student is in


@dataclass(frozen=True, slots=True)
class Coming:
    """A student whom the roster brings: ``key`` as in the roster, ``changed`` what differs from what is kept."""

    key: str
    person: Person
    changed: tuple[str, ...]
    is_back: bool = False


@dataclass(frozen=True, slots=True)
class Twin:
    """A student here without sourcedId, and one of the roster, of the same name: are they one?"""

    key: str
    row: int
    pk: int


@dataclass(slots=True)
class Changes:
    """``left`` have nothing out; ``flagged`` have, so they stay until it is back. ``known`` is key -> pk.

    ``joins`` are (key, class) of who comes into a class, ``ends`` (pk, class) of who goes.
    """

    new: list[Coming] = field(default_factory=list)
    changed: list[Coming] = field(default_factory=list)
    same: int = 0
    left: list[int] = field(default_factory=list)
    flagged: list[int] = field(default_factory=list)
    newly_flagged: list[int] = field(default_factory=list)
    twins: list[Twin] = field(default_factory=list)
    known: dict[str, int] = field(default_factory=dict)
    joins: list[tuple[str, str]] = field(default_factory=list)
    ends: list[tuple[int, str]] = field(default_factory=list)
    problems: tuple[Problem, ...] = ()
    new_guardians: int = 0
    changed_guardians: int = 0

    @property
    def is_nothing(self) -> bool:
        return not (self.new or self.changed or self.left or self.newly_flagged or self.joins or self.ends)


def changes_of(roster: Roster, people: Sequence[Person], *, answers: Mapping[str, int] | None = None) -> Changes:
    """Hold the roster against the people of a school.

    ``answers`` say for a student of the roster who is here under the same name: pk of the one it is, 0 for another
    person. Where nobody has answered, the twin is among ``twins``.
    """
    result, problems = Changes(), Problems()
    matched = _matched(roster, people, answers=answers or {}, result=result)
    result.known = {key: person.pk for key, person in matched.items()}
    unclear = {twin.key for twin in result.twins}
    for key, row in roster.students.items():
        old = matched.get(key)
        wanted = _wanted(row, roster, old)
        _check_length(row, wanted, problems)
        if old is None:
            if _is_ours(row) and key not in unclear:
                result.new.append(Coming(key, wanted, COLUMNS))
        else:
            _take(Coming(key, wanted, _differences(old, wanted), is_back=old.is_off and bool(row.classes)), result)
    for key in roster.enrolled.keys() - roster.students.keys():
        if key in matched:
            _take(Coming(key, matched[key], (), is_back=matched[key].is_off), result)
        else:
            reason = _("This student is in no file and not known here. Ask for a whole roster (bulk).")
            problems.add("enrollments.csv", roster.rows.get(key), "userSourcedId", reason)
    _change_guardians(roster, people, result)
    _leave(roster, people, matched, result)
    _move(roster, people, matched, result)
    _check_numbers(roster, people, result, problems)
    _count_guardians(people, result)
    result.problems = problems.all()
    return result


def _is_ours(row: StudentRow) -> bool:
    """Whether a student is in a chosen class, or on a list; changes may speak of students of other courses."""
    return bool(row.classes) or not row.sourced_id


def _take(coming: Coming, result: Changes) -> None:
    if coming.changed or coming.is_back:
        result.changed.append(coming)
    else:
        result.same += 1


# Who is who


def _matched(
    roster: Roster, people: Sequence[Person], *, answers: Mapping[str, int], result: Changes
) -> dict[str, Person]:
    by_id = {person.sourced_id: person for person in people if person.sourced_id}
    matched = {key: by_id[key] for key in [*roster.students, *roster.enrolled] if key in by_id}
    taken = {person.pk for person in matched.values()}
    by_number = {person.number: person for person in people if person.number and person.pk not in taken}
    for key, row in roster.students.items():
        if key not in matched and row.number in by_number:
            matched[key] = by_number.pop(row.number)
            taken.add(matched[key].pk)
    by_pk = {person.pk: person for person in people}
    by_name: dict[str, list[Person]] = {}
    for person in people:
        if person.pk not in taken and not person.sourced_id:
            for name in {name_key(person.name), name_key(person.sort_name)}:
                by_name.setdefault(name, []).append(person)
    for key, row in roster.students.items():
        if key in matched:
            continue
        answer = answers.get(key)
        alike = [
            person
            for person in [*by_name.get(name_key(row.name), []), *by_name.get(name_key(row.sort_name), [])]
            if not (row.number and person.number) and person.pk not in taken
        ]
        if answer and answer in by_pk and answer not in taken:
            matched[key] = by_pk[answer]
            taken.add(answer)
        elif answer is None and alike and _is_ours(row):
            result.twins.append(Twin(key, row.row, alike[0].pk))
    return matched


def name_key(name: str) -> str:
    return " ".join(name.casefold().split())


# What is to be kept


def _wanted(row: StudentRow, roster: Roster, old: Person | None) -> Person:
    given: dict[str, Any] = {
        "name": row.name,
        "sort_name": row.sort_name,
        "number": row.number or (old.number if old else ""),
        "grade": row.grade or (old.grade if old else ""),
        "sourced_id": row.sourced_id or (old.sourced_id if old else ""),
    }
    there = old.guardians if old else ()
    guardians = merged_guardians([roster.guardians.get(agent, agent) for agent in row.guardians], there)
    if not row.sourced_id:  # a list, which may name no guardian, takes nobody away
        guardians = (*guardians, *(one for one in there if not _is_among(one, guardians)))
    if old is None:
        return Person(pk=0, guardians=guardians, **given)
    return replace(old, guardians=guardians, **given)


def _is_among(one: PersonGuardian, guardians: Iterable[PersonGuardian]) -> bool:
    return any(name_key(one.name) == name_key(other.name) for other in guardians)


def merged_guardians(
    coming: Iterable[GuardianRow | str], there: Sequence[PersonGuardian]
) -> tuple[PersonGuardian, ...]:
    """Return the roster's guardians first, in its order, then those whom somebody typed.

    A guardian is found again by sourcedId, then by name among those typed, and keeps the language. A bare sourcedId is
    a guardian whom the roster names without telling more.
    """
    left = list(there)
    merged: list[PersonGuardian] = []
    for row in coming:
        sourced_id = row if isinstance(row, str) else row.sourced_id
        old = next((one for one in left if sourced_id and one.sourced_id == sourced_id), None)
        if isinstance(row, str):
            if old is None:
                continue
            new = old
        else:
            if old is None:
                old = next(
                    (one for one in left if not one.sourced_id and name_key(one.name) == name_key(row.name)), None
                )
            new = _guardian(row, old)
        if old is not None:
            left.remove(old)
        merged.append(new)
    return (*merged, *(one for one in left if not one.sourced_id))


def _guardian(row: GuardianRow, old: PersonGuardian | None) -> PersonGuardian:
    email, phone = contact_parts(row.email), contact_parts(row.phone)
    others = [part["contact"] for part in (email, phone) if "contact" in part]
    base = old or PersonGuardian()
    return replace(
        base,
        name=row.name,
        email=email.get("email", "") or base.email,
        phone=phone.get("phone", "") or base.phone,
        contact=", ".join(others)[:LONGEST_CONTACT] or base.contact,
        sourced_id=row.sourced_id or base.sourced_id,
    )


def _differences(old: Person, wanted: Person) -> tuple[str, ...]:
    names = [*COLUMNS, "guardians"]
    return tuple(name for name in names if getattr(old, name) != getattr(wanted, name))


def _change_guardians(roster: Roster, people: Sequence[Person], result: Changes) -> None:
    """Change guardians whom a file of changes names without their children, and take out those it deletes."""
    if roster.is_bulk:
        return
    listed = {result.known[key] for key in roster.students if key in result.known}
    for person in people:
        if person.pk in listed:
            continue
        kept = [one for one in person.guardians if not one.sourced_id or one.sourced_id not in roster.gone]
        named: list[GuardianRow | str] = [
            roster.guardians.get(one.sourced_id, one.sourced_id) for one in kept if one.sourced_id
        ]
        guardians = merged_guardians(named, kept)
        if guardians != person.guardians:
            wanted = replace(person, guardians=guardians)
            result.changed.append(Coming(person.sourced_id or str(person.pk), wanted, ("guardians",)))


# Who has left, and who is in which class


def _leave(roster: Roster, people: Sequence[Person], matched: Mapping[str, Person], result: Changes) -> None:
    enrolled = {person.pk for key, person in matched.items() if key in roster.enrolled}
    for person in people:
        if not person.sourced_id or person.has_left or person.pk in enrolled:
            continue
        if person.is_out and (person.is_off or _is_gone(person, roster)):
            result.flagged.append(person.pk)
            if not person.is_off:
                result.newly_flagged.append(person.pk)
        elif _is_gone(person, roster):
            result.left.append(person.pk)


def _is_gone(person: Person, roster: Roster) -> bool:
    """Whether somebody whom the roster enrolls nowhere has left: by a whole roster, or by what a file of changes ends."""
    if roster.is_bulk or person.sourced_id in roster.gone:
        return True
    return bool(person.classes) and not _classes_left(person, roster)


def _classes_left(person: Person, roster: Roster) -> set[str]:
    over = {group for user, group in roster.dropped if user == person.sourced_id} | roster.gone_classes
    return set(person.classes) - over


def _move(roster: Roster, people: Sequence[Person], matched: Mapping[str, Person], result: Changes) -> None:
    back = {coming.key for coming in result.changed if coming.is_back}
    for key, groups in roster.enrolled.items():
        old = matched.get(key)
        if old is None or not old.has_left or key in back:
            result.joins.extend((key, group) for group in groups if old is None or group not in old.classes)
    keys = {person.pk: key for key, person in matched.items()}
    gone = {*result.left, *result.flagged}
    for person in people:
        now = set(roster.enrolled.get(keys.get(person.pk, ""), []))
        stays = now if roster.is_bulk or person.pk in gone else now | _classes_left(person, roster)
        result.ends.extend((person.pk, group) for group in sorted(person.classes - stays))


# What cannot be


def _check_length(row: StudentRow, wanted: Person, problems: Problems) -> None:
    if len(wanted.name) > LONGEST_NAME:
        problems.add(USERS, row.row, "familyName", _("The name is longer than %(most)d characters.", most=LONGEST_NAME))
    if len(wanted.number) > LONGEST_NUMBER:
        reason = _("The identifier is longer than %(most)d characters.", most=LONGEST_NUMBER)
        problems.add(USERS, row.row, "identifier", reason)
    if any(len(one.name) > LONGEST_NAME for one in wanted.guardians):
        reason = _("A guardian's name is longer than %(most)d characters.", most=LONGEST_NAME)
        problems.add(USERS, row.row, "agentSourcedIds", reason)


def _check_numbers(roster: Roster, people: Sequence[Person], result: Changes, problems: Problems) -> None:
    """Two students of a school must not have the same number."""
    after = {person.pk: person.number for person in people}
    after |= {coming.person.pk: coming.person.number for coming in result.changed}
    counts = Counter(number for number in [*after.values(), *(one.person.number for one in result.new)] if number)
    for coming in [*result.new, *result.changed]:
        if counts[coming.person.number] > 1 and coming.key in roster.students:
            reason = _("Another student has this number.")
            problems.add(USERS, roster.students[coming.key].row, "identifier", reason)


def _count_guardians(people: Sequence[Person], result: Changes) -> None:
    before = {one.sourced_id: one for person in people for one in person.guardians if one.sourced_id}
    after = {
        one.sourced_id: one
        for coming in [*result.new, *result.changed]
        for one in coming.person.guardians
        if one.sourced_id
    }
    result.new_guardians = len(after.keys() - before.keys())
    result.changed_guardians = sum(one != before[key] for key, one in after.items() if key in before)
