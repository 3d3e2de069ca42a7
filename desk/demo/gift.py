"""A donation from a cleared-out theater loft: six instruments, each with its own trouble."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from desk.demo.fleet import finish_walk, start_walk
from desk.demo.stage import Stage, read_data
from desk.demo.year import bench_of, reloaded, waiting_for_repair, work_on_job
from inventory.models import Acquired, Instrument, Purpose
from inventory.services.inspecting import record_finding
from inventory.services.registering import record_donation, register_instrument
from repairs.services.jobs import open_job


def register_gift(stage: Stage) -> list[Instrument]:
    """Register what came, record the donor, and inspect all but the last."""
    data = read_data("gift")
    school = stage.schools[data["school"]]
    room = next(room for room in stage.rooms[data["school"]] if room.name == data["room"])
    director, at = stage.director_of(school), stage.at(-3, 14)
    came = []
    for number, item in enumerate(data["items"]):
        moment = at + timedelta(minutes=4 * number)
        instrument = register_instrument(
            kind_code=item["kind"], school=school, room=room, maker=item["maker"], serial=item["serial"],
            year_made=item["year_made"], acquired_by=Acquired.GIFT, acquired_on=stage.today - timedelta(days=3),
            title_holder="Tamarack Valley Schools", token=stage.token(), actor=director, at=moment,
        )  # fmt: skip
        record_donation(
            instrument=instrument, donor_name=data["donor"]["name"], donor_contact=data["donor"]["contact"],
            history=data["donor"]["history"], received_on=stage.today - timedelta(days=3), actor=director, at=moment,
        )  # fmt: skip
        if "findings" in item:
            inspect_gift(stage, instrument, item)
        came.append(instrument)
    return came


def inspect_gift(stage: Stage, instrument: Instrument, item: dict[str, Any]) -> None:
    tech, at = stage.people["tech"], stage.at(-2, 10)
    draft = start_walk(stage, instrument, Purpose.INTAKE, at=at)
    for part, fault, severity, *place in item["findings"]:
        record_finding(
            inspection=draft, part=part, fault=fault, severity=severity, place="".join(place), actor=tech, at=at
        )
    counts = {
        row.code: 0 if row.code in item.get("missing", ()) else row.expected for row in instrument.accessories.all()
    }
    finish_walk(draft, actor=tech, at=at, counts=counts, minutes=12)


def start_jobs(stage: Stage, gift: list[Instrument]) -> None:
    """Start jobs on the donated euphonium and a few of the fleet, each a few steps in."""
    tech = stage.people["tech"]
    for number, instrument in enumerate([reloaded(gift[0]), *waiting_for_repair(stage)[:5]]):
        job = open_job(
            instrument=instrument, bench=bench_of(stage, instrument.school), actor=tech, at=stage.at(-2, 13, number),
            due_on=stage.today + timedelta(days=5 + 3 * number), because="" if number else "From the loft",
        )  # fmt: skip
        work_on_job(stage, job, days=-2, most_steps=(3, 2, 0, 1, 0, 2)[number], finish=False)
