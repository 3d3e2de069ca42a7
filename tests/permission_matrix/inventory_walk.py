from __future__ import annotations

from typing import Any

from core.photos import clean_photo
from inventory.models import Purpose, Role, School
from inventory.services.care import keep_photo, record_play_test, report_problem
from tests.factories import NOW, make_inspection, make_instrument, make_ready_instrument, make_user
from tests.permission_matrix import Row
from tests.permission_matrix.makers import instrument_number
from tests.pictures import jpeg

INSPECT = "inventory.inspect_instrument"


def draft_pk(school: School) -> tuple[Any, ...]:
    instrument = make_instrument(school=school)
    return (make_inspection(instrument=instrument, purpose=Purpose.SPOT, finish=False).pk,)


def draft_part(school: School) -> tuple[Any, ...]:
    return (*draft_pk(school), "leadpipe")


def photo_small(school: School) -> tuple[Any, ...]:
    actor = make_user(Role.TECH, school=school)
    photo = keep_photo(instrument=make_instrument(school=school), photo=clean_photo(jpeg()), actor=actor, at=NOW)
    return (photo.pk, "small")


def report_pk(school: School) -> tuple[Any, ...]:
    return (report_problem(instrument=make_ready_instrument(school=school), text="A key hangs.", at=NOW).pk,)


def play_test_pk(school: School) -> tuple[Any, ...]:
    actor = make_user(Role.TECH, school=school)
    instrument = make_ready_instrument(school=school)
    return (record_play_test(instrument=instrument, result="pass", actor=actor, at=NOW).pk,)


ROWS = {
    "inventory:inspect": Row(INSPECT, make=instrument_number),
    "inventory:play-test-like": Row("inventory.play_test_instrument", make=instrument_number),
    "inventory:walk-like": Row(INSPECT, make=instrument_number),
    "inventory:walk": Row(INSPECT, make=draft_pk),
    "inventory:walk-part": Row(INSPECT, make=draft_part),
    "inventory:walk-safety": Row(INSPECT, make=draft_pk, method="post"),
    "inventory:walk-fine": Row(INSPECT, make=draft_pk, method="post"),
    "inventory:walk-rest-fine": Row(INSPECT, make=draft_pk, method="post"),
    "inventory:walk-finding": Row(INSPECT, make=draft_pk, method="post"),
    "inventory:walk-take-back": Row(INSPECT, make=draft_pk, method="post"),
    "inventory:walk-accessories": Row(INSPECT, make=draft_pk, method="post"),
    "inventory:walk-photo": Row(INSPECT, make=draft_pk, method="post"),
    "inventory:walk-finish": Row(INSPECT, make=draft_pk, method="post"),
    "inventory:walk-drop": Row(INSPECT, make=draft_pk),
    "inventory:photo": Row("inventory.view_instrument", make=photo_small),
    "inventory:photos": Row(INSPECT, make=instrument_number),
    "inventory:play-test": Row("inventory.play_test_instrument", make=instrument_number),
    "inventory:play-test-result": Row("inventory.play_test_instrument", make=play_test_pk),
    "inventory:to-clean": Row("inventory.clean_instrument", own=False),
    "inventory:hygiene": Row("inventory.clean_instrument", make=instrument_number),
    "inventory:accessories": Row(INSPECT, make=instrument_number),
    "inventory:whereabouts": Row("inventory.move_instrument", make=instrument_number),
    "inventory:reports": Row("inventory.handle_report", own=False),
    "inventory:confirm-report": Row("inventory.handle_report", make=report_pk, method="post"),
    "inventory:answer-report": Row("inventory.handle_report", make=report_pk),
}
