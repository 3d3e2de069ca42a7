from __future__ import annotations

import pytest
from django.test import Client

from desk.pages.opening import CLOSED, STEPS, step_lines
from inventory.selectors.opening import FirstSteps, Standing


def steps(*done):
    return FirstSteps(done={code: code in done for code in STEPS}, is_aside=False)


def test_each_step_is_ticked_and_the_first_that_is_not_comes_next():
    lines = step_lines(steps("district", "time_zone"))
    assert (lines["done"], lines["next"]["code"], lines["is_finished"]) == (2, "schools", False)
    assert [line["code"] for line in lines["lines"] if line["is_done"]] == ["district", "time_zone"]
    assert [line["is_done"] for line in lines["lines"]] == [False] * 6 + [True] * 2  # what is left stands on top


def test_when_all_are_done_nothing_comes_next():
    lines = step_lines(steps(*STEPS))
    assert (lines["next"], lines["is_finished"]) == (None, True)


@pytest.mark.django_db
def test_each_leads_to_a_page_that_the_administrator_may_open(administrator):
    client = Client()
    client.force_login(administrator)
    assert {client.get(line["url"]).status_code for line in step_lines(steps())["lines"]} == {200}


def test_every_way_of_being_closed_is_said():
    assert CLOSED.keys() == {*Standing} - {Standing.OPEN}
