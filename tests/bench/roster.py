"""A district's roster of 50,000 users: checked, and cut down to two courses; time, and the memory of a process of its own."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

from tests.bench.figures import Figure
from tests.bench.sections import Run
from tests.rosters import Rows, enrollment, files_of, school_rows, user, write_zip

USERS, SCHOOLS, COURSES, CLASSES, CLASSES_OF_ONE = 50_000, 40, 200, 6_000, 7

# In a process of its own, so that its growth is the roster's alone.
READ = """
import json, re, sys
from datetime import date
from pathlib import Path
from time import perf_counter
from loans.rules.roster import check_roster, courses_of, read_people, source_at
def grown():
    return int(re.search(r"VmHWM:\\s+(\\d+)", Path("/proc/self/status").read_text())[1]) / 1024
source, before, begun = source_at(Path(sys.argv[1])), grown(), perf_counter()
checked = check_roster(source)
assert not checked.problems, checked.problems[:3]
checking, begun = perf_counter() - begun, perf_counter()
courses_of(source, checked, today=date(2026, 9, 1))
listing, begun = perf_counter() - begun, perf_counter()
roster = read_people(source, checked, courses={"c-1", "c-2"}, today=date(2026, 9, 1))
reading = perf_counter() - begun
print(json.dumps({"check": checking, "courses": listing, "people": reading, "students": len(roster.students),
                  "guardians": len(roster.guardians), "grown": grown() - before}))
"""


def district(users: int = USERS) -> Rows:
    """A student and a guardian by turns, seven classes for each student; ids as long as those of real systems."""
    rows = school_rows()
    schools = [f"school-{number}" for number in range(SCHOOLS)]
    rows["orgs"] = [{"sourcedId": one, "name": one, "type": "school", "identifier": one.upper()} for one in schools]
    rows["courses"] = [
        {"sourcedId": f"c-{number}", "title": f"Course {number}", "orgSourcedId": schools[0]}
        for number in range(COURSES)
    ]
    rows["classes"] = [
        rows["classes"][0]
        | {
            "sourcedId": _id("class", number),
            "courseSourcedId": f"c-{number % COURSES}",
            "schoolSourcedId": schools[number % SCHOOLS],
        }
        for number in range(CLASSES)
    ]
    rows["users"], rows["enrollments"] = [], []
    for number in range(users // 2):
        home, student, guardian = schools[number % SCHOOLS], _id("student", number), _id("guardian", number)
        more = {"orgSourcedIds": home, "email": f"{number}@home.example"}
        rows["users"] += [
            user(student, "student", f"Given{number}", f"Family{number % 4000}", identifier=str(400_000 + number),
                 grades="09", agentSourcedIds=guardian, **more),
            user(guardian, "guardian", f"Parent{number}", f"Family{number % 4000}", phone="555-0100", **more),
        ]  # fmt: skip
        rows["enrollments"] += [
            enrollment(
                _id("enrollment", number * CLASSES_OF_ONE + place),
                _id("class", (number * 37 + place * 811) % CLASSES),
                student,
                schoolSourcedId=home,
            )
            for place in range(CLASSES_OF_ONE)
        ]
    return rows


def _id(what: str, number: int) -> str:
    return f"{what}-{number:0{35 - len(what)}d}"


def section(run: Run) -> Iterator[Figure | str]:
    users = 2_000 if run.is_quick else USERS
    for version in ("1.1", "1.2"):
        path = write_zip(run.folder / f"roster-{version}.zip", files_of(district(users), version=version))
        told = _read(path)
        what = f"{users:,} users, OneRoster {version}"
        yield Figure(f"{what}: checked", told["check"] * 1000, note=f"{path.stat().st_size / 2**20:.0f} MB zip file")
        yield Figure(f"{what}: courses listed", told["courses"] * 1000)
        note = f"{told['students']:.0f} students, {told['guardians']:.0f} guardians"
        yield Figure(f"{what}: people of two courses", told["people"] * 1000, note=note)
        yield f"{what}: the process grew by {told['grown']:.0f} MB"
        path.unlink()


def _read(path: Path) -> dict[str, float]:
    done = subprocess.run([sys.executable, "-c", READ, str(path)], capture_output=True, text=True, check=True)
    told: dict[str, float] = json.loads(done.stdout)
    return told
