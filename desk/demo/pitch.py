"""Three instruments measured again and again: one holds its pitch, one goes flat, one goes flat and leaks.

Nothing here is random: the same fleet gives the same tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from desk.demo.stage import Stage
from inventory.models import Instrument, Verdict
from inventory.selectors.playing import all_notes
from inventory.services.care import record_play_test

DAYS = (-395, -300, -205, -125, -60, -9)  # over two school years
CELSIUS = (Decimal("20.5"), Decimal("18.0"), Decimal("23.5"), Decimal("26.0"), Decimal("21.0"), Decimal("19.5"))
WOBBLE = (0.0, 2.6, -1.8, 1.1, -2.9, 0.7, 3.2, -0.6, -2.2, 1.9)  # cents, from note to note
CENTS_PER_DEGREE = 3.0  # above 20 °C; a wind instrument follows the speed of sound
MOST_NOTES = 13


@dataclass(frozen=True, slots=True)
class Watched:
    """A kind to measure: where it starts, how it drifts, how far its notes spread, and what fails at the last test."""

    kind: str
    tester_plays: str
    starts: float  # cents
    moves: tuple[float, ...]  # cents from the start, test by test
    spread: float  # a factor on the wobble
    fails: int = 0  # lowest notes that do not speak at the last test


WATCHED = (
    Watched(kind="trumpet", tester_plays="trumpet", starts=2.0, moves=(0.0, 1.5, -1.0, 0.5, -1.5, 1.0), spread=1.0),
    Watched(
        kind="trombone", tester_plays="trombone", starts=3.0, moves=(0.0, -2.5, -5.0, -8.0, -11.5, -14.0), spread=1.3
    ),
    Watched(
        kind="clarinet_bb",
        tester_plays="clarinet",
        starts=1.0,
        moves=(0.0, -1.0, -4.5, -7.0, -12.5, -17.0),
        spread=1.8,
        fails=2,
    ),
)


def measure_pitch(stage: Stage, *, number: int) -> None:
    """Record play test ``number`` of the measured instruments, with pitch and temperature."""
    if not stage.watched:
        stage.watched = [row for one in WATCHED if (row := _first_that_plays(stage, one.kind)) is not None]
    by_kind = {one.kind: one for one in WATCHED}
    for instrument in stage.watched:
        _measure(stage, Instrument.objects.get(pk=instrument.pk), by_kind[instrument.kind_code], number=number)


def _first_that_plays(stage: Stage, kind: str) -> Instrument | None:
    rows = [row for row in stage.fleet if row.kind_code == kind]
    sound = Instrument.objects.filter(pk__in=[row.pk for row in rows], verdict=Verdict.PLAYS)
    return sound.order_by("asset_number").first()


def _measure(stage: Stage, instrument: Instrument, watched: Watched, *, number: int) -> None:
    notes = all_notes(instrument)[:MOST_NOTES]
    is_last = number == len(DAYS) - 1
    silent = notes[: watched.fails] if is_last else []
    warm = CENTS_PER_DEGREE * (float(CELSIUS[number]) - 20) / 2
    level = watched.starts + watched.moves[number] + warm
    measures = [
        {"written": written, "cents": None, "spread": None, "tries": 1, "spoke": False}
        if written in silent
        else {
            "written": written,
            "cents": round(level + watched.spread * WOBBLE[(place + 3 * number) % len(WOBBLE)], 1),
            "spread": round(0.8 + 0.3 * ((place + number) % 4), 1),
            "tries": 2,
            "spoke": True,
        }
        for place, written in enumerate(notes)
    ]
    record_play_test(
        instrument=instrument,
        result="limits" if silent else "pass",
        limits_text=f"{' and '.join(silent)} do not speak." if silent else "",
        failed_notes=silent,
        measures=measures,
        tester_plays=watched.tester_plays,
        room_celsius=CELSIUS[number],
        tuning_cents=Decimal(str(round(level - WOBBLE[number], 1))),
        actor=stage.people["tech"],
        at=stage.at(DAYS[number], 14, 10),
    )
