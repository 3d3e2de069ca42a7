"""Files, columns and words of OneRoster CSV, as its tables list them, for what a band program reads.

Sources: "OneRoster: CSV Tables", version 1.1 (2017); "OneRoster: CSV Binding", version 1.2.1 (2023). A line is a column:
its name and what it holds, which is a word of ``KINDS``, an enumeration, or the file that it points into. ``*`` marks a
list in one cell, ``!`` what must be filled, ``?`` what must be filled where the file brings changes only (delta).
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
sourcedId:id!
status:status?
dateLastModified:moment?
"""

# Of users in both versions, one after the other.
_OF_USERS = """
username:text!
userIds:text
givenName:text!
familyName:text!
middleName:text
identifier:text
email:text
sms:text
phone:text
agentSourcedIds:users*
grades:grade*
password:text
"""

_TABLES: Final = {
    "orgs": """
name:text!
type:orgType!
identifier:text
parentSourcedId:orgs
""",
    "academicSessions": """
title:text!
type:sessionType!
startDate:date!
endDate:date!
parentSourcedId:academicSessions
schoolYear:year!
""",
    "courses": """
schoolYearSourcedId:academicSessions
title:text!
courseCode:text
grades:grade*
orgSourcedId:orgs!
subjects:text
subjectCodes:text
""",
    "classes": """
title:text!
grades:grade*
courseSourcedId:courses!
classCode:text
classType:classType!
location:text
schoolSourcedId:orgs!
termSourcedIds:academicSessions*!
subjects:text
subjectCodes:text
periods:text
""",
    "users": """
enabledUser:bool!
orgSourcedIds:orgs*!
role:userRole!
"""
    + _OF_USERS,
    "enrollments": """
classSourcedId:classes!
schoolSourcedId:orgs!
userSourcedId:users!
role:enrollmentRole!
primary:bool
beginDate:date
endDate:date
""",
}

_TABLES_1_2: Final = {
    "users": """
enabledUser:bool!
"""
    + _OF_USERS
    + """
userMasterIdentifier:text
preferredGivenName:text
preferredMiddleName:text
preferredFamilyName:text
primaryOrgSourcedId:orgs
pronouns:text
""",
    "roles": """
userSourcedId:users!
roleType:roleType!
role:userRole!
beginDate:date
endDate:date
orgSourcedId:orgs!
userProfileSourcedId:text
""",
}

_WORDS: Final = {
    "status": "active|tobedeleted",
    "bool": "true|false",
    "orgType": "department|school|district|local|state|national",
    "sessionType": "gradingPeriod|semester|schoolYear|term",
    "classType": "homeroom|scheduled",
    "userRole": "administrator|aide|guardian|parent|proctor|relative|student|teacher",
    "enrollmentRole": "administrator|proctor|student|teacher",
    "roleType": "primary|secondary",
    "grade": "IT|PR|PK|TK|KG|01|02|03|04|05|06|07|08|09|10|11|12|13|PS|UG|Other",
}
_USER_ROLES_1_2: Final = (
    "aide|counselor|districtAdministrator|guardian|parent|principal|proctor|relative|siteAdministrator|student|"
    "systemAdministrator|teacher"
)

GUARDIAN_ROLES: Final = frozenset({"guardian", "parent", "relative"})
STUDENT: Final = "student"
GOING: Final = "tobedeleted"

# Files of the standard that a band program has no use for: known by name, never opened.
_UNREAD: Final = "categories|classResources|courseResources|demographics|lineItems|resources|results"
_UNREAD_1_2: Final = (
    "lineItemLearningObjectiveIds|lineItemScoreScales|resultLearningObjectiveIds|resultScoreScales|scoreScales|"
    "userProfiles|userResources"
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
    name, _, held = line.partition(":")
    kind = held.rstrip("*!?")
    return Column(
        name=name,
        kind=kind if kind in KINDS else "",
        words=tuple(filter(None, words.get(kind, "").split("|"))),
        points_to=kind if kind in _TABLES else "",
        is_list="*" in held,
        is_required="!" in held,
        is_required_in_delta="?" in held,
    )


def _standard(version: str) -> Standard:
    words, tables, unread = dict(_WORDS), dict(_TABLES), set(_UNREAD.split("|"))
    if version == "1.2":
        words["userRole"] = _USER_ROLES_1_2
        tables |= _TABLES_1_2
        unread |= set(_UNREAD_1_2.split("|"))
    order = ("orgs", "academicSessions", "courses", "classes", "users", "roles", "enrollments")
    files = {
        name: tuple(_column(line, words) for line in (_START + tables[name]).split("\n") if line)
        for name in order
        if name in tables
    }
    return Standard(version=version, files=files, unread=frozenset(unread))


STANDARDS: Final = {version: _standard(version) for version in VERSIONS}
