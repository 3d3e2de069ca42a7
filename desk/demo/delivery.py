"""New horns for the beginners: the dealer's list is brought in as it is, and all but the last are walked along."""

from __future__ import annotations

from desk.demo.fleet import walk
from desk.demo.stage import FOLDER, Stage
from inventory.models import ImportBatch, Instrument
from inventory.selectors.importing import guessed_columns
from inventory.services.importing import begin_import, choose_columns, judge_more, publish_import, sample_rows

SCHOOL = "MILL"
NEW = -1.0  # added to the chance of a fault: nothing is wrong with them
WAIT = 2  # of them for their first walk


def take_the_delivery(stage: Stage) -> ImportBatch:
    """Send the list, take the guessed columns, write what is new. One row is no instrument and stays to be put right."""
    school, at = stage.schools[SCHOOL], stage.at(-1, 9)
    told = (FOLDER / "delivery.csv").read_text(encoding="utf-8")
    data = told.format(day=f"{stage.at(-1):%m/%d/%Y}").encode()
    director = stage.director_of(school)
    batch = begin_import(school=school, data=data, filename="delivery.csv", actor=director, at=at).batch
    guess = guessed_columns(school=school, header=batch.header, sample=sample_rows(batch))
    choose_columns(batch=batch, choices=guess.choices, actor=director, at=at)
    batch = judge_more(batch=batch, today=at.date())
    publish_import(batch=batch, actor=director, at=at, today=at.date(), make_token=stage.token)
    return batch


def look_at_the_delivery(stage: Stage) -> None:
    new = Instrument.objects.filter(school=stage.schools[SCHOOL]).exclude(fingerprint="").order_by("asset_number")
    for instrument in list(new)[:-WAIT]:
        walk(stage, instrument, "intake", days=0, worse=NEW)
