"""District, schools, rooms, benches, people, students."""

from __future__ import annotations

from decimal import Decimal

from desk.demo.stage import Stage, read_data
from inventory.catalog.load import catalog
from inventory.services.opening import put_first_steps_aside
from inventory.services.people import add_person, add_room, add_school, give_role, set_up_district
from loans.services.agreements import terms_in_force
from loans.services.students import NewGuardian, add_student
from repairs.profiles import bench_profile
from repairs.services.benches import set_up_bench

PASSWORD = "open-the-water-key"  # noqa: S105  # anyone may log in to the demo district
SALT = "demonstration-salt-22"  # fixed, so that two loads give the same rows; real passwords get a random salt
STUDENTS = {"ALDER": 95, "QUARRY": 70, "MILL": 24, "TVHS": 85}
GRADES = {"ALDER": ("6", "7", "8"), "QUARRY": ("6", "7", "8"), "MILL": ("5",), "TVHS": ("9", "10", "11", "12")}
MAILED, IN_SPANISH, TWO = 3, 8, 5  # every so many students have a guardian of that sort
LEVELS = {"5": "first_year", "6": "first_year", "7": "second_year"}


def guardians_of(stage: Stage, names: dict[str, list[str]], family: str, *, index: int) -> list[NewGuardian]:
    """One with a phone; of some students also an address for e-mail, a second guardian, or Spanish as language."""
    given, phone = stage.rng.choice(names["given"]), f"(555) 010-{stage.rng.randint(2000, 9999)}"
    first = NewGuardian(
        name=f"{given} {family}",
        phone=phone,
        email=f"guardian-{phone[-4:]}@family.example" if index % MAILED == 1 else "",
        language="es" if index % IN_SPANISH == 2 else "en",
    )
    other = names["given"][(names["given"].index(given) + 1) % len(names["given"])]
    second = [NewGuardian(name=f"{other} {family}", phone=f"(555) 010-{1000 + index}")] if index % TWO == 3 else []
    return [first, *second]


def create_district(stage: Stage) -> None:
    """Set up the district and everyone in it, more than a year ago."""
    data, names, at = read_data("district"), read_data("names"), stage.at(-420, 8)
    administrator = add_person(
        username="administrator",
        name=data["people"]["administrator"]["name"],
        password=PASSWORD,
        salt=SALT,
        actor=None,
        at=at,
    )
    stage.people["administrator"] = administrator
    set_up_district(actor=administrator, at=at, **data["district"])
    put_first_steps_aside(is_aside=True, actor=administrator, at=at)
    for code, school in data["schools"].items():
        fields = {name: school[name] for name in ("name", "phone", "address")}
        row = add_school(code=code, actor=administrator, at=at, **fields)
        stage.schools[code] = row
        stage.rooms[code] = [add_room(school=row, name=name, actor=administrator, at=at) for name in school["rooms"]]
    for username, person in data["people"].items():
        if username not in stage.people:
            stage.people[username] = add_person(
                username=username, name=person["name"], password=PASSWORD, salt=SALT, actor=administrator, at=at
            )
        for role, code in person["roles"]:
            give_role(
                user=stage.people[username],
                role=role,
                school=stage.schools[code] if code else None,
                actor=administrator,
                at=at,
            )
    for code, bench in data["benches"].items():
        profile = bench_profile(bench["profile"], catalog=catalog())
        stage.benches[code] = set_up_bench(
            code=code,
            school=stage.schools[bench["school"]],
            name=bench["name"],
            tools=sorted(profile.tools),
            methods=sorted(profile.methods),
            has_torch=bench["torch"],
            has_chemicals=bench["chemicals"],
            rate_amount=Decimal(bench["rate"]),
            actor=administrator,
            at=at,
        )
    terms_in_force(at=at)
    for code, count in STUDENTS.items():
        for index in range(stage.some(count)):
            family, grade = stage.rng.choice(names["family"]), stage.rng.choice(GRADES[code])
            student = add_student(
                school=stage.schools[code],
                name=f"{stage.rng.choice(names['given'])} {family}",
                grade=grade,
                guardians=guardians_of(stage, names, family, index=index),
                number=f"{code[0]}{41_000 + 7 * index}",
                level=LEVELS.get(grade, "concert"),
                actor=stage.director_of(stage.schools[code]),
                at=stage.at(-400, 10),
            )
            stage.students.setdefault(code, []).append(student)
