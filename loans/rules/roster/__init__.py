"""Rosters by the open standard OneRoster CSV: read, checked, and cut down to the people of chosen courses."""

from loans.rules.roster.changes import Changes, Coming, Person, PersonGuardian, Twin, changes_of
from loans.rules.roster.checking import Checked, check_roster, checked_before
from loans.rules.roster.listing import FIELD_WORDS, guess_fields, is_heading, read_list
from loans.rules.roster.people import (
    ClassRow,
    CourseRow,
    GuardianRow,
    Place,
    Roster,
    StudentRow,
    courses_of,
    orgs_of_classes,
    places_of,
    read_people,
    titles_of_courses,
)
from loans.rules.roster.problems import Problem, Problems, UnreadableError
from loans.rules.roster.sources import Source, ZipSource, source_at
from loans.rules.roster.standard import BULK, DELTA, VERSIONS, file_name
