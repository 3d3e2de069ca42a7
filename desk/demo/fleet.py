"""The instruments of a year ago, and what inspecting each of them found."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from decimal import Decimal

from core.models import User
from desk.demo.stage import Stage, read_data
from inventory.catalog.load import catalog
from inventory.catalog.schema import MISSING_PART, Part
from inventory.models import Acquired, Inspection, Instrument, Level
from inventory.rules.facts import Owed
from inventory.services.care import record_cleaning
from inventory.services.inspecting import (
    answer_safety,
    count_accessories,
    finish_inspection,
    look_at_rest,
    record_finding,
    start_inspection,
)
from inventory.services.registering import register_instrument

REGISTERED = -410  # days from today
NEVER_INSPECTED = 0.05  # share of the fleet
NO_FINDINGS = 0.50  # share of the rest
LOOKS = ("lacquer_wear", "dent_small", "bell_bent", "case_broken", "plating_flake", "key_noise")


def register_fleet(stage: Stage) -> None:
    """Register every instrument of the plan, with the spread of ages a school has."""
    names = read_data("names")
    for code, kinds in read_data("fleet").items():
        for kind, count in kinds.items():
            for _ in range(stage.some(count)):
                stage.fleet.append(_register(stage, code, kind, names))


def _register(stage: Stage, code: str, kind: str, names: dict[str, list[str]]) -> Instrument:
    rng, school = stage.rng, stage.schools[code]
    level = Level.INTERMEDIATE if rng.random() < (0.45 if code == "TVHS" else 0.15) else Level.STUDENT
    low, high = catalog().kinds[kind].prices[str(level.value)]
    age = int(rng.triangular(1, 34, 9))
    came = rng.choices([Acquired.BOUGHT, Acquired.TRANSFER, Acquired.GIFT, Acquired.UNKNOWN], [70, 12, 10, 8])[0]
    bought = came == Acquired.BOUGHT
    cost = Decimal(rng.randint(int(low), int(high))) * (Decimal(100) - age) / 100
    award = bought and age <= 5 and rng.random() < 0.2
    # what came a year ago was there when it was registered
    came_on = min(stage.today.replace(year=stage.today.year - age, day=1), stage.today + timedelta(days=REGISTERED))
    return register_instrument(
        kind_code=kind,
        school=school,
        room=rng.choice(stage.rooms[code]),
        level=level,
        maker=rng.choice(names["makers"]),
        model=rng.choice(names["models"]),
        serial="" if rng.random() < 0.04 else f"{rng.randint(1000, 999_999)}",
        year_made=stage.today.year - age - rng.randint(0, 2),
        acquired_by=came,
        acquired_on=came_on if came != Acquired.UNKNOWN else None,
        acquisition_cost_amount=cost.quantize(Decimal(1)) if bought else None,
        funding_source=("Title IV arts award" if award else rng.choice(["General fund", "Band boosters"]))
        if bought
        else "",
        award_number=f"S424A{rng.randint(100, 999)}" if award else "",
        federal_percent=Decimal(60) if award else None,
        title_holder="Tamarack Valley Schools",
        token=stage.token(),
        actor=stage.director_of(school),
        at=stage.moment(REGISTERED),
    )


def inspect_fleet(stage: Stage) -> None:
    """Inspect all but a few."""
    for number, instrument in enumerate(stage.fleet):
        if stage.rng.random() < NEVER_INSPECTED:
            continue
        days = -400 + number // 30
        inspect(stage, instrument, "intake", days=days)
        clean(stage, instrument, days=days + 1)


def clean(stage: Stage, instrument: Instrument, *, days: int) -> None:
    """Record every cleaning that it owed on arrival."""
    record_cleaning(instrument=instrument, done=list(Owed), actor=stage.people["tech"], at=stage.moment(days))


def inspect(stage: Stage, instrument: Instrument, purpose: str, *, days: int, worse: float = 0.0) -> Inspection:
    """Inspect with random findings: mostly none, mostly light. ``worse`` is added to the chance of a fault."""
    rng, at = stage.rng, stage.moment(days)
    actor = stage.people["tech"]
    draft = start_walk(stage, instrument, purpose, at=at)
    if rng.random() > NO_FINDINGS - worse:
        for _ in range(rng.choice([1, 1, 1, 2, 2, 3])):
            add_random_finding(stage, draft, instrument)
    counts = {row.code: row.expected for row in instrument.accessories.all()}
    if counts and rng.random() < 0.08:
        counts[rng.choice(sorted(counts))] = 0
    return finish_walk(draft, actor=actor, at=at, counts=counts)


def start_walk(stage: Stage, instrument: Instrument, purpose: str, *, at: datetime) -> Inspection:
    """Begin an inspection by the tech, who finds it safe to handle."""
    tech = stage.people["tech"]
    draft = start_inspection(instrument=instrument, purpose=purpose, actor=tech, at=at)
    answer_safety(inspection=draft, is_safe=True, actor=tech, at=at)
    return draft


def finish_walk(
    draft: Inspection, *, actor: User, at: datetime, counts: Mapping[str, int] | None = None, minutes: int = 0
) -> Inspection:
    """Look at what is left, count the accessories where there are counts, and finish so many minutes later."""
    look_at_rest(inspection=draft, actor=actor, at=at)
    if counts is not None:
        count_accessories(instrument=draft.instrument, counts=counts, actor=actor, at=at, inspection=draft)
    return finish_inspection(inspection=draft, actor=actor, at=at + timedelta(minutes=minutes))


def add_random_finding(stage: Stage, draft: Inspection, instrument: Instrument) -> None:
    """Record one fault at one part and place; the likely ones come up most."""
    rng = stage.rng
    part: Part = rng.choice(instrument.parts)
    faults = [code for code in catalog().faults_at(part) if code != MISSING_PART]
    if rng.random() < 0.4:
        looks = [code for code in faults if code in LOOKS]
        faults = looks or faults
    if not faults:
        return
    fault = faults[min(int(rng.expovariate(0.9)), len(faults) - 1)]
    record_finding(
        inspection=draft,
        part=part.code,
        place=rng.choice(part.places).code if part.places else "",
        fault=fault,
        severity=rng.choices(["light", "moderate", "severe"], [52, 30, 18])[0],
        actor=stage.people["tech"],
        at=draft.started_at,
    )
