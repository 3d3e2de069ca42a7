"""A large district, inserted directly: rows that hang together and an event chain that holds.

Everything the program checks of itself (``manage.py verify``) is true of it: stored verdicts follow from the findings,
whereabouts from loans and jobs, each event from the one before.
"""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db import transaction

from core.models import Event, User
from inventory.catalog.load import catalog
from inventory.catalog.schema import Kind
from inventory.models import (
    Accessory,
    Acquired,
    District,
    Finding,
    Inspection,
    Instrument,
    Level,
    PartLook,
    Role,
    Room,
    School,
    StaffRole,
    Tag,
    Whereabouts,
)
from inventory.selectors.state import State, states_of
from inventory.services.registering import TOKEN_LENGTH, TOKEN_LETTERS, accessories_for, options_of
from loans.models import AgreementTerms, Guardian, Loan, Student
from loans.selectors.agreements import default_terms
from repairs.models import Attempt, Bench, CareDone, Job
from repairs.services.care import keep_care_dates
from tests.bench.past import hang_on, history, log_event
from tests.bench.rows import Big, Draft, Pattern, chunks, insert, some_findings
from tests.bench.upkeep import keep_up
from tests.bench.years import count_all, keep_months, leave
from tests.simulation.drawing import full_bench

SCHOOLS = 50  # of a district large enough for them
LEAST_IN_A_SCHOOL = 60  # instruments
PATTERNS, PER_PATTERN = 8, 400  # sets of findings a kind is seen with, at least; half of them are empty
ON_BENCH, LENT, REPAIRED = 0.025, 0.45, 0.15  # shares of the instruments
YEARS, FIRST_YEAR = 5, 400  # of history; days ago that the last one was registered
LEFT = 0.03  # share of the instruments that is out of the fleet
CORRECTED, MOVED = 11, 97  # one in so many
FUNDS = ("General fund", "Booster club", "Title IV-A", "")
COMMON = {"clarinet": 9, "flute": 9, "trumpet": 8, "alto_sax": 6, "trombone": 5}  # the rest weigh 1


def build(*, instruments: int, events: int, now: datetime, seed: int = 1) -> Big:
    """Fill an empty, migrated database."""
    generator = random.Random(seed)
    big = Big(now=now)
    with transaction.atomic():
        people_and_places(big, instruments=instruments)
        drafts = register(big, count=instruments, generator=generator)
        past = list(history(big, drafts, generator=generator))
        hang_on(big, drafts, events=past, generator=generator)
        past += leave(big, drafts, generator=generator)
        past += count_all(big, drafts)
        keep_up(big, drafts, generator=generator)
        store_states(drafts)
        keys = list(Instrument.objects.order_by("pk").values_list("pk", flat=True))
        for start in range(0, len(keys), 500):
            keep_care_dates(keys[start : start + 500])
        log_event(big, past, total=events, generator=generator)
        keep_months(big, drafts)
    return district_found(now=now) or big


def district_found(*, now: datetime) -> Big | None:
    """Return the large district that the database holds, or None."""
    schools = list(School.objects.order_by("pk"))
    if not schools:
        return None
    counted = (School, Instrument, Finding, Inspection, PartLook, Loan, Student, Job, Attempt, CareDone, Event)
    return Big(
        now=now,
        people={user.username: user for user in User.objects.all()},
        schools=schools,
        counts={str(model._meta.verbose_name_plural): model._default_manager.count() for model in counted},
    )


def people_and_places(big: Big, *, instruments: int) -> None:
    District.objects.create(pk=1, name="Wide River District", asset_prefix="WR-", asset_digits=5, next_asset_number=1)
    AgreementTerms.objects.create(text=default_terms(), version=1, written_at=big.now)
    count = max(2, min(SCHOOLS, instruments // LEAST_IN_A_SCHOOL))
    big.schools = insert(School(code=f"S{n:03d}", name=f"School number {n}") for n in range(1, count + 1))
    insert(Room(school=school, name=name) for school in big.schools for name in ("Band room", "Store", "Loft"))
    fact = full_bench(catalog())
    for school in big.schools:
        big.benches[school.pk] = Bench.objects.create(
            school=school, code=f"bench-{school.pk}", name=f"Bench of {school.code}", tools=sorted(fact.tools),
            methods=sorted(fact.methods), has_torch=True, has_chemicals=True,
        )  # fmt: skip
        big.students[school.pk] = insert(
            Student(school=school, name=f"Student {n}", sort_name=f"{n}, Student", grade="6", number=f"{41_000 + n}")
            for n in range(max(40, instruments // count))
        )
        insert(Guardian(student=one, name=f"Guardian {one.pk}") for one in big.students[school.pk])
    for role in Role.values:
        user = User.objects.create_user(username=role, name=f"The {role}")
        StaffRole.objects.create(user=user, role=role, school=big.schools[0] if role == Role.DIRECTOR else None)
        big.people[role] = user


def patterns_of(kind: Kind, *, count: int, now: datetime, generator: random.Random) -> list[Pattern]:
    found = []
    for number in range(count):
        at = now - timedelta(days=20 + 9 * (number % PATTERNS), hours=generator.randrange(6))
        drawn = some_findings(kind, generator=generator) if number % 2 else ()
        found.append(Pattern(kind=kind, findings=drawn, inspected_at=at))
    return found


def register(big: Big, *, count: int, generator: random.Random) -> list[Draft]:
    kinds = catalog().kinds
    weights = [COMMON.get(code, 1) for code in kinds]
    each = max(PATTERNS, count // PER_PATTERN)
    patterns = {code: patterns_of(kind, count=each, now=big.now, generator=generator) for code, kind in kinds.items()}
    rooms = defaultdict(list)
    for room in Room.objects.all():
        rooms[room.school_id].append(room)
    drafts = []
    for number, code in enumerate(generator.choices(list(kinds), weights, k=count), start=1):
        school = big.schools[number % len(big.schools)]
        pattern = generator.choice(patterns[code])
        chance = generator.random()
        where = Whereabouts.WITH_STUDENT if chance < LENT else Whereabouts.IN_STORE
        if chance > 1 - LEFT:
            where = Whereabouts.GONE
        elif pattern.findings and generator.random() < 2 * ON_BENCH:
            where = Whereabouts.ON_BENCH
        registered_at = big.now - timedelta(days=FIRST_YEAR + number * 7 % (YEARS * 365 - FIRST_YEAR))
        row = Instrument(
            asset_number=f"WR-{number:05d}", kind_code=code, level=generator.choice(Level.values),
            maker=generator.choice(("Plain Brass Works", "Reed & Key", "Hill Drum Shop", "Vale")), model=f"M{number % 70}",
            serial=f"{number:07d}", year_made=1970 + number % 55, acquired_by=generator.choice(Acquired.values),
            acquisition_cost_amount=Decimal(generator.randrange(200, 4000)), school=school,
            room=generator.choice(rooms[school.pk]), options=options_of(kind_code=code, given={}),
            registered_at=registered_at, whereabouts=where,
            acquired_on=registered_at.date() - timedelta(days=generator.randrange(7000)) if number % 5 else None,
            replacement_amount=Decimal(generator.randrange(300, 6000)) if number % 2 else None,
            funding_source=generator.choice(FUNDS), federal_percent=None if number % 20 else Decimal(50),
        )  # fmt: skip
        drafts.append(
            Draft(
                row=row,
                pattern=pattern,
                token="".join(generator.choices(TOKEN_LETTERS, k=TOKEN_LENGTH)),
                is_reported=generator.random() < 0.01,
                was_repaired=generator.random() < REPAIRED and where != Whereabouts.GONE,
                left_at=big.now - timedelta(days=3 + number % 16) if where == Whereabouts.GONE else None,
                began_as=as_it_began(row, number=number, big=big),
            )
        )
    District.objects.filter(pk=1).update(next_asset_number=count + 1)
    for draft, row in zip(drafts, insert(draft.row for draft in drafts), strict=True):
        draft.row = row
    insert(Tag(token=draft.token, instrument=draft.row, issued_at=draft.row.registered_at) for draft in drafts)
    insert(accessory for draft in drafts for accessory in counted(draft.row))
    return drafts


def as_it_began(row: Instrument, *, number: int, big: Big) -> dict[str, Any]:
    """What was corrected later, as the event that registered it says: another price, or another school."""
    if number % CORRECTED == 0:
        return {"replacement_amount": "950.00"}
    if number % MOVED == 1 and row.whereabouts == Whereabouts.IN_STORE and row.school_id != big.schools[0].pk:
        return {"school": big.schools[0].pk, "room": None}
    return {}


def counted(row: Instrument) -> list[Accessory]:
    found = accessories_for(row)
    for accessory in found:
        accessory.present = accessory.expected
    return found


def store_states(drafts: Sequence[Draft]) -> None:
    """Compute one of each sort by the program's own rules and write it into all of that sort."""
    sorts: dict[tuple[Any, ...], list[Draft]] = defaultdict(list)
    for draft in drafts:
        sorts[id(draft.pattern), draft.row.whereabouts, draft.is_reported].append(draft)
    states: dict[int, State] = {}
    firsts = [members[0].row.pk for members in sorts.values()]
    for start in range(0, len(firsts), 500):
        states |= states_of(Instrument.objects.filter(pk__in=firsts[start : start + 500]))
    for members in sorts.values():
        columns = states[members[0].row.pk].columns()
        for some in chunks([draft.row for draft in members], 500):
            Instrument.objects.filter(pk__in=[row.pk for row in some]).update(**columns)
