"""Instruments outlive the entries of the catalog: no page fails once a kind, a part or a fault has left it."""

from __future__ import annotations

import pytest
from django.urls import reverse

from inventory.models import Finding, Instrument, Photo, School
from inventory.selectors.state import states_of
from repairs.models import Attempt, TakenPart
from tests.factories import make_inspection, make_user
from tests.permission_matrix import Row, all_rows, holders_of

pytestmark = pytest.mark.page
PAGES = {
    name: row
    for name, row in all_rows().items()
    if row.method == "get" and row.permission != "any" and not name.startswith("api:")
}
NOT_FOUND = {"inventory:walk-part"}  # a part's stop goes with the part
GONE = {"desk:sign-by-link"}  # a link to sign ends with its text, which names the kind


def lose_the_kind() -> None:
    Instrument.objects.update(kind_code="horn_alto", options={"key": "Eb"})


def lose_the_parts() -> None:
    for model in (Finding, Attempt, TakenPart, Photo):
        model.objects.update(part="water_whistle")


def lose_the_faults() -> None:
    Finding.objects.update(fault="inlay_gone")


LOSSES = {"kind": lose_the_kind, "parts": lose_the_parts, "faults": lose_the_faults}


def broken_instruments() -> None:
    """Let every instrument of the page have something wrong with it."""
    for instrument in Instrument.objects.filter(findings=None):
        stop = next(part for part in instrument.parts if part.code != "case")
        make_inspection(instrument=instrument, findings=[(stop.code, "missing_part", "severe")])


def store_again() -> None:
    """As ``refresh_state`` would: the catalog has changed, and the columns follow."""
    for pk, state in states_of(Instrument.objects.all()).items():
        Instrument.objects.filter(pk=pk).update(**state.columns())


def lose(loss: str) -> None:
    """Give every instrument a finding, then take an entry from under it."""
    broken_instruments()
    LOSSES[loss]()
    store_again()


def open_page(client, name: str, row: Row, school: School, loss: str):
    args = row.make(school)
    lose(loss)
    if row.permission:
        client.force_login(make_user(min(holders_of(row.permission)), school=school))
    return client.get(reverse(name, args=args))


SAMPLE = [(name, sorted(LOSSES)[number % 3]) for number, name in enumerate(sorted(PAGES)[::4])]


@pytest.mark.parametrize(("name", "loss"), SAMPLE)
def test_every_page_answers(name, loss, client, school):
    answer = open_page(client, name, PAGES[name], school, loss)
    allowed = {200, 302} | ({404} if name in NOT_FOUND else set()) | ({410} if name in GONE else set())
    assert answer.status_code in allowed


@pytest.mark.drill
@pytest.mark.parametrize("name", sorted(PAGES))
@pytest.mark.parametrize("loss", sorted(LOSSES))
def test_every_page_answers_after_each_loss(name, loss, client, school):
    test_every_page_answers(name, loss, client, school)
