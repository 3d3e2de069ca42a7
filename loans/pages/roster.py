"""What the pages of a roster say: courses to choose, and what would change."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any, Final

from django.urls import reverse
from django.utils.translation import gettext, ngettext, pgettext

from loans.rules.roster import Coming, CourseRow, Person, Twin
from loans.selectors.roster import SchoolChanges

SHOWN: Final = 50
# Words in the titles of courses that a band program may want; they come first. From memory, no source.
MUSIC: Final = ("band", "orchestra", "wind", "brass", "jazz", "percussion", "string", "ensemble", "symphon", "music")


def course_choices(courses: Sequence[CourseRow], *, taken: Collection[str]) -> list[tuple[str, str]]:
    """Return the courses to choose from: chosen ones first, then what sounds like music, then the rest."""
    ordered = sorted(
        courses,
        key=lambda course: (course.sourced_id not in taken, not _is_music(course.title), not course.students),
    )
    return [(course.sourced_id, _course_words(course)) for course in ordered]


def _is_music(title: str) -> bool:
    return any(word in title.casefold() for word in MUSIC)


def _course_words(course: CourseRow) -> str:
    students = ngettext("%(count)d student", "%(count)d students", course.students) % {"count": course.students}
    title = course.title or gettext("without a title")
    return " · ".join(filter(None, [title, course.code, students]))


def change_stats(found: SchoolChanges) -> list[dict[str, Any]]:
    changes = found.changes
    return [
        {"sum": len(changes.new), "what": pgettext("students", "new")},
        {"sum": len(changes.changed), "what": pgettext("students", "changed")},
        {"sum": changes.same, "what": gettext("as before")},
        {"sum": len(changes.left), "what": gettext("left")},
        {"sum": len(changes.flagged), "what": gettext("left, still out")},
    ]


def change_groups(found: SchoolChanges) -> list[dict[str, Any]]:
    """Return who is new, changed, left and flagged, each with the first names and how many more there are."""
    changes = found.changes
    groups = [
        {
            "title": gettext("Left, with an instrument out"),
            "why": gettext("They stay on the list until the instrument is back."),
            "lines": [_line(found, pk) for pk in changes.flagged],
        },
        {
            "title": gettext("New"),
            "why": "",
            "lines": [{"name": one.person.sort_name, "note": _grade(one)} for one in changes.new],
        },
        {
            "title": gettext("Changed"),
            "why": "",
            "lines": [_line(found, one.person.pk, _changed_words(one)) for one in changes.changed],
        },
        {"title": gettext("Left"), "why": "", "lines": [_line(found, pk) for pk in changes.left]},
    ]
    return [
        group | {"lines": group["lines"][:SHOWN], "more": max(0, len(group["lines"]) - SHOWN)}
        for group in groups
        if group["lines"]
    ]


def twin_lines(file: SchoolChanges) -> list[tuple[Twin, str]]:
    """Return each question about the same name with the name, and the grades where they differ."""
    return [
        (twin, _twin_words(file.people[twin.pk], file.roster.students[twin.key].grade)) for twin in file.changes.twins
    ]


def _twin_words(here: Person, grade: str) -> str:
    if not grade or not here.grade or grade == here.grade:
        return here.sort_name
    words = gettext("%(name)s, here in grade %(here)s, in the file in grade %(there)s")
    return words % {"name": here.sort_name, "here": here.grade, "there": grade}


def _line(found: SchoolChanges, pk: int, note: str = "") -> dict[str, str]:
    return {"name": found.people[pk].sort_name, "note": note, "url": reverse("loans:student", args=[pk])}


def _grade(coming: Coming) -> str:
    return gettext("grade %(grade)s") % {"grade": coming.person.grade} if coming.person.grade else ""


def _changed_words(coming: Coming) -> str:
    words = {
        "name": gettext("name"),
        "number": gettext("number"),
        "grade": gettext("grade"),
        "sourced_id": gettext("roster identifier"),
        "guardians": gettext("guardians"),
    }
    names = [words[name] for name in coming.changed if name in words]
    return ", ".join([*names, *([gettext("back again")] if coming.is_back else [])])
