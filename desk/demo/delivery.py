"""New instruments for the beginners: imports the dealer's list as sent and inspects all but the last two."""

from __future__ import annotations

from desk.demo.fleet import clean, inspect
from desk.demo.stage import FOLDER, Stage
from inventory.models import ImportBatch, Instrument
from inventory.selectors.importing import guessed_columns
from inventory.services.importing import begin_import, choose_columns, judge_more, publish_import, sample_rows

SCHOOL = "MILL"
NEW = -1.0  # added to the chance of a fault: new instruments have none
WAIT = 2  # not inspected yet


def import_delivery(stage: Stage) -> ImportBatch:
    """Send the list, accept the guessed columns and publish. One row is not an instrument and stays to be fixed."""
    school, at = stage.schools[SCHOOL], stage.at(-1, 9)
    text = (FOLDER / "delivery.csv").read_text(encoding="utf-8")
    data = text.format(day=f"{stage.at(-1):%Y-%m-%d}").encode()
    director = stage.director_of(school)
    batch = begin_import(school=school, data=data, filename="delivery.csv", actor=director, at=at).batch
    guess = guessed_columns(school=school, header=batch.header, sample=sample_rows(batch))
    choose_columns(batch=batch, choices=guess.choices, actor=director, at=at)
    batch = judge_more(batch=batch, today=at.date())
    publish_import(batch=batch, actor=director, at=at, today=at.date(), make_token=stage.token)
    return batch


def inspect_delivery(stage: Stage) -> None:
    new = Instrument.objects.filter(school=stage.schools[SCHOOL]).exclude(fingerprint="").order_by("asset_number")
    for instrument in list(new)[:-WAIT]:
        inspect(stage, instrument, "intake", days=0, worse=NEW)
        clean(stage, instrument, days=0)
