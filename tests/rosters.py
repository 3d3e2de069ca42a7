"""Small rosters of our own, built from the field lists of OneRoster CSV, to be read as they are or spoiled.

Headers and order as in "OneRoster: CSV Tables", version 1.1 (2017), and "OneRoster: CSV Binding", version 1.2.1 (2023).
"""

from __future__ import annotations

import csv
import io
import zipfile
from pathlib import Path

START = "sourcedId,status,dateLastModified,"
HEADERS = {
    "orgs": START + "name,type,identifier,parentSourcedId",
    "academicSessions": START + "title,type,startDate,endDate,parentSourcedId,schoolYear",
    "courses": START + "schoolYearSourcedId,title,courseCode,grades,orgSourcedId,subjects,subjectCodes",
    "classes": START + "title,grades,courseSourcedId,classCode,classType,location,schoolSourcedId,termSourcedIds,"
    "subjects,subjectCodes,periods",
    "users": START + "enabledUser,orgSourcedIds,role,username,userIds,givenName,familyName,middleName,identifier,email,"
    "sms,phone,agentSourcedIds,grades,password",
    "enrollments": START + "classSourcedId,schoolSourcedId,userSourcedId,role,primary,beginDate,endDate",
}
HEADERS_1_2 = HEADERS | {
    "users": START + "enabledUser,username,userIds,givenName,familyName,middleName,identifier,email,sms,phone,"
    "agentSourcedIds,grades,password,userMasterIdentifier,preferredGivenName,preferredMiddleName,preferredFamilyName,"
    "primaryOrgSourcedId,pronouns",
    "roles": START + "userSourcedId,roleType,role,beginDate,endDate,orgSourcedId,userProfileSourcedId",
}
MOMENT = "2026-08-20T14:05:00.000Z"
Rows = dict[str, list[dict[str, str]]]


def user(sourced_id: str, role: str, given: str, family: str, **cells: str) -> dict[str, str]:
    return {
        "sourcedId": sourced_id,
        "enabledUser": "true",
        "orgSourcedIds": "school-1",
        "role": role,
        "username": sourced_id,
        "givenName": given,
        "familyName": family,
    } | cells


def enrollment(sourced_id: str, group: str, person: str, role: str = "student", **cells: str) -> dict[str, str]:
    return {
        "sourcedId": sourced_id,
        "classSourcedId": group,
        "schoolSourcedId": "school-1",
        "userSourcedId": person,
        "role": role,
    } | cells


def school_rows() -> Rows:
    """Two students in band with a guardian each, one in algebra alone, whom a band program must not store."""
    return {
        "orgs": [
            {"sourcedId": "district-1", "name": "Plain District", "type": "district"},
            {
                "sourcedId": "school-1",
                "name": "North High",
                "type": "school",
                "identifier": "NHS",
                "parentSourcedId": "district-1",
            },
        ],
        "academicSessions": [
            {
                "sourcedId": "fall",
                "title": "Fall",
                "type": "semester",
                "startDate": "2026-08-17",
                "endDate": "2026-12-18",
                "parentSourcedId": "year",
                "schoolYear": "2027",
            },
            {
                "sourcedId": "year",
                "title": "2026–27",
                "type": "schoolYear",
                "startDate": "2026-08-17",
                "endDate": "2027-06-04",
                "schoolYear": "2027",
            },
        ],
        "courses": [
            {
                "sourcedId": "band",
                "schoolYearSourcedId": "year",
                "title": "Concert Band",
                "courseCode": "MU101",
                "grades": "09,10",
                "orgSourcedId": "school-1",
            },
            {"sourcedId": "algebra", "title": "Algebra", "orgSourcedId": "school-1"},
        ],
        "classes": [
            {
                "sourcedId": "band-2",
                "title": "Concert Band, second period",
                "courseSourcedId": "band",
                "classCode": "MU101-2",
                "classType": "scheduled",
                "schoolSourcedId": "school-1",
                "termSourcedIds": "fall",
                "periods": "2",
            },
            {
                "sourcedId": "algebra-1",
                "title": "Algebra",
                "courseSourcedId": "algebra",
                "classType": "scheduled",
                "schoolSourcedId": "school-1",
                "termSourcedIds": "fall,year",
            },
        ],
        "users": [
            user("t-1", "teacher", "Dana", "Holt"),
            user("s-1", "student", "Ana", "Rivera", identifier="40017", grades="09", agentSourcedIds="g-1"),
            user("s-2", "student", "Ben", "Okafor", identifier="40018", grades="10"),
            user("s-3", "student", "Cal", "Stone", identifier="40019", grades="11", agentSourcedIds="g-3"),
            user("g-1", "guardian", "Luz", "Rivera", email="luz@home.example", phone="555-0101"),
            user("g-2", "parent", "Ada", "Okafor", sms="555-0102", agentSourcedIds="s-2"),
            user("g-3", "guardian", "Eve", "Stone", email="eve@home.example"),
        ],
        "enrollments": [
            enrollment("e-0", "band-2", "t-1", "teacher", primary="true"),
            enrollment("e-1", "band-2", "s-1", beginDate="2026-08-17"),
            enrollment("e-2", "band-2", "s-2"),
            enrollment("e-3", "algebra-1", "s-3"),
            enrollment("e-4", "algebra-1", "s-1"),
        ],
    }


def as_1_2(rows: Rows) -> Rows:
    """Move each user's role and organizations into the file of roles."""
    roles = [
        {
            "sourcedId": f"role-{one['sourcedId']}",
            "userSourcedId": one["sourcedId"],
            "roleType": "primary",
            "role": one["role"],
            "orgSourcedId": one["orgSourcedIds"],
        }
        | {name: one[name] for name in ("status", "dateLastModified") if name in one}
        for one in rows["users"]
    ]
    users = [
        {name: text for name, text in one.items() if name not in {"role", "orgSourcedIds"}} for one in rows["users"]
    ]
    return rows | {"users": users, "roles": roles}


def as_delta(rows: Rows, status: str = "active") -> Rows:
    return {name: [{"status": status, "dateLastModified": MOMENT} | one for one in some] for name, some in rows.items()}


def files_of(rows: Rows, *, version: str = "1.1", mode: str = "bulk") -> dict[str, bytes]:
    """Return the files, manifest and all; ``rows`` are of version 1.1, whatever ``version`` says."""
    if version == "1.2":
        rows = as_1_2(rows)
    headers = HEADERS_1_2 if version == "1.2" else HEADERS
    says = [("manifest.version", "1.0"), ("oneroster.version", version)]
    says += [(f"file.{name}", mode if name in rows else "absent") for name in headers]
    says += [("file.demographics", "absent"), ("source.systemName", "school office")]
    files = {f"{name}.csv": csv_of(headers[name].split(","), some) for name, some in rows.items()}
    return files | {"manifest.csv": manifest_of(says)}


def manifest_of(says: list[tuple[str, str]]) -> bytes:
    return "".join(f"{name},{value}\r\n" for name, value in [("propertyName", "value"), *says]).encode()


def csv_of(header: list[str], rows: list[dict[str, str]]) -> bytes:
    text = io.StringIO()
    writer = csv.DictWriter(text, header, restval="")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue().encode()


def zip_of(files: dict[str, bytes], *, folder: str = "") -> io.BytesIO:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(folder + name, data)
    packed.seek(0)
    return packed


def write_folder(path: Path, files: dict[str, bytes]) -> Path:
    path.mkdir(parents=True, exist_ok=True)
    for name, data in files.items():
        (path / name).write_bytes(data)
    return path


def write_zip(path: Path, files: dict[str, bytes]) -> Path:
    path.write_bytes(zip_of(files).getvalue())
    return path
