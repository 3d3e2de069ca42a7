"""Files, columns and words of OneRoster CSV, as its tables list them, for what a band program reads.

Sources: "OneRoster: CSV Tables", version 1.1 (2017); "OneRoster: CSV Binding", version 1.2.1 (2023). A line is a column:
its name, what it holds, and whether it must be filled. What it holds is a word of ``KINDS``, an enumeration, or the file
that it points into; ``*`` marks a list in one cell. ``delta`` means: must be filled where the file brings changes only.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

VERSIONS: Final = ("1.1", "1.2")
MANIFEST: Final = "manifest"
BULK, DELTA, ABSENT = "bulk", "delta", "absent"
MODES: Final = (ABSENT, BULK, DELTA)
KINDS: Final = {"id", "text", "date", "moment", "year"}

_START = """
sourcedId id required
status status delta
dateLastModified moment delta
"""

_TABLES: Final = {
    "orgs": """
name text required
type orgType required
identifier text
parentSourcedId orgs
""",
    "academicSessions": """
title text required
type sessionType required
startDate date required
endDate date required
parentSourcedId academicSessions
schoolYear year required
""",
    "courses": """
schoolYearSourcedId academicSessions
title text required
courseCode text
grades grade*
orgSourcedId orgs required
subjects text
subjectCodes text
""",
    "classes": """
title text required
grades grade*
courseSourcedId courses required
classCode text
classType classType required
location text
schoolSourcedId orgs required
termSourcedIds academicSessions* required
subjects text
subjectCodes text
periods text
""",
    "users": """
enabledUser bool required
orgSourcedIds orgs* required
role userRole required
username text required
userIds text
givenName text required
familyName text required
middleName text
identifier text
email text
sms text
phone text
agentSourcedIds users*
grades grade*
password text
""",
    "enrollments": """
classSourcedId classes required
schoolSourcedId orgs required
userSourcedId users required
role enrollmentRole required
primary bool
beginDate date
endDate date
""",
}

_TABLES_1_2: Final = {
    "users": """
enabledUser bool required
username text required
userIds text
givenName text required
familyName text required
middleName text
identifier text
email text
sms text
phone text
agentSourcedIds users*
grades grade*
password text
userMasterIdentifier text
preferredGivenName text
preferredMiddleName text
preferredFamilyName text
primaryOrgSourcedId orgs
pronouns text
""",
    "roles": """
userSourcedId users required
roleType roleType required
role userRole required
beginDate date
endDate date
orgSourcedId orgs required
userProfileSourcedId text
""",
}

_WORDS: Final = {
    "status": "active tobedeleted",
    "bool": "true false",
    "orgType": "department school district local state national",
    "sessionType": "gradingPeriod semester schoolYear term",
    "classType": "homeroom scheduled",
    "userRole": "administrator aide guardian parent proctor relative student teacher",
    "enrollmentRole": "administrator proctor student teacher",
    "roleType": "primary secondary",
    "grade": "IT PR PK TK KG 01 02 03 04 05 06 07 08 09 10 11 12 13 PS UG Other",
}
_USER_ROLES_1_2: Final = (
    "aide counselor districtAdministrator guardian parent principal proctor relative siteAdministrator student "
    "systemAdministrator teacher"
)

GUARDIAN_ROLES: Final = frozenset({"guardian", "parent", "relative"})
STUDENT: Final = "student"
GOING: Final = "tobedeleted"

# Files of the standard that a band program has no use for: known by name, never opened.
_UNREAD: Final = "categories classResources courseResources demographics lineItems resources results"
_UNREAD_1_2: Final = (
    "lineItemLearningObjectiveIds lineItemScoreScales resultLearningObjectiveIds resultScoreScales scoreScales "
    "userProfiles userResources"
)


@dataclass(frozen=True, slots=True)
class Column:
    name: str
    kind: str  # of KINDS, or ""
    words: tuple[str, ...] = ()  # the enumeration, where it is one
    points_to: str = ""  # the file whose sourcedIds it holds
    is_list: bool = False
    is_required: bool = False
    is_required_in_delta: bool = False


@dataclass(frozen=True, slots=True)
class Standard:
    """One version: the files that are read, in an order in which what is pointed to comes first."""

    version: str
    files: dict[str, tuple[Column, ...]]
    unread: frozenset[str]

    @property
    def names(self) -> frozenset[str]:
        return self.unread | set(self.files)


def file_name(name: str) -> str:
    return f"{name}.csv"


def _column(line: str, words: dict[str, str]) -> Column:
    name, held, *rest = line.split()
    kind = held.removesuffix("*")
    return Column(
        name=name,
        kind=kind if kind in KINDS else "",
        words=tuple(words.get(kind, "").split()),
        points_to=kind if kind in _TABLES else "",
        is_list=held.endswith("*"),
        is_required="required" in rest,
        is_required_in_delta="delta" in rest,
    )


def _standard(version: str) -> Standard:
    words, tables, unread = dict(_WORDS), dict(_TABLES), set(_UNREAD.split())
    if version == "1.2":
        words["userRole"] = _USER_ROLES_1_2
        tables |= _TABLES_1_2
        unread |= set(_UNREAD_1_2.split())
    order = ("orgs", "academicSessions", "courses", "classes", "users", "roles", "enrollments")
    files = {
        name: tuple(_column(line, words) for line in (_START + tables[name]).split("\n") if line)
        for name in order
        if name in tables
    }
    return Standard(version=version, files=files, unread=frozenset(unread))


STANDARDS: Final = {version: _standard(version) for version in VERSIONS}
