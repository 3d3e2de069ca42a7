"""Three instruments measured again and again: one holds its pitch, one goes flat, one goes flat and leaks.

Nothing here is random: the same fleet gives the same tests.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from desk.demo.stage import Stage, read_data
from inventory.models import Instrument, Verdict
from inventory.selectors.playing import all_notes
from inventory.services.care import record_play_test

DAYS = (-395, -300, -205, -125, -60, -9)  # over two school years
CELSIUS = (Decimal("20.5"), Decimal("18.0"), Decimal("23.5"), Decimal("26.0"), Decimal("21.0"), Decimal("19.5"))
WOBBLE = (0.0, 2.6, -1.8, 1.1, -2.9, 0.7, 3.2, -0.6, -2.2, 1.9)  # cents, from note to note
CENTS_PER_DEGREE = 3.0  # above 20 °C; a wind instrument follows the speed of sound
MOST_NOTES = 13


def measure_pitch(stage: Stage, *, number: int) -> None:
    """Record play test ``number`` of the measured instruments, with pitch and temperature."""
    watched = read_data("pitch")
    if not stage.watched:
        stage.watched = [row for kind in watched if (row := _first_that_plays(stage, kind)) is not None]
    for instrument in stage.watched:
        _measure(stage, Instrument.objects.get(pk=instrument.pk), watched[instrument.kind_code], number=number)


def _first_that_plays(stage: Stage, kind: str) -> Instrument | None:
    rows = [row for row in stage.fleet if row.kind_code == kind]
    sound = Instrument.objects.filter(pk__in=[row.pk for row in rows], verdict=Verdict.PLAYS)
    return sound.order_by("asset_number").first()


def _measure(stage: Stage, instrument: Instrument, watched: dict[str, Any], *, number: int) -> None:
    notes = all_notes(instrument)[:MOST_NOTES]
    is_last = number == len(DAYS) - 1
    silent = notes[: watched["fails"]] if is_last else []
    warm = CENTS_PER_DEGREE * (float(CELSIUS[number]) - 20) / 2
    level = watched["starts"] + watched["moves"][number] + warm
    measures = [
        {"written": written, "cents": None, "spread": None, "tries": 1, "spoke": False}
        if written in silent
        else {
            "written": written,
            "cents": round(level + watched["spread"] * WOBBLE[(place + 3 * number) % len(WOBBLE)], 1),
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
        tester_plays=watched["tester_plays"],
        room_celsius=CELSIUS[number],
        tuning_cents=Decimal(str(round(level - WOBBLE[number], 1))),
        actor=stage.people["tech"],
        at=stage.at(DAYS[number], 14, 10),
    )
