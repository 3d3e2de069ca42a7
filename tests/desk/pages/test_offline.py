import pytest
from django.urls import reverse

from desk.pages.offline import offline_page
from inventory.models import Purpose
from tests.factories import TODAY, make_instrument

pytestmark = pytest.mark.django_db


def test_each_instrument_has_what_finds_it_and_the_walk_of_its_build(school, tech, auditor):
    first = make_instrument(school=school, asset_number="TV-1", serial="S-77")
    make_instrument(school=school, asset_number="TV-2")
    page = offline_page(tech, today=TODAY)
    walk = reverse("inventory:walk-like", args=["TV-1"])
    play = reverse("inventory:play-test-like", args=["TV-1"])
    assert page["pages_of_days"] == [walk, play]
    assert {"inspect", "bench"} <= {one["code"] for one in page["guide"]}
    assert page["pictures"] == [f"guide/{one['code']}.webp" for one in page["guide"]]
    assert page["work"] == []
    one, two = page["register"]
    assert one["walk"] == two["walk"] == walk
    assert one["play"] == two["play"] == play
    assert one["also"] == ["S-77", first.tags.get().token]
    assert one["purposes"] == [[Purpose.INTAKE.value, "On arrival"]]
    assert [row["walk"] for row in offline_page(auditor, today=TODAY)["register"]] == ["", ""], (
        "an auditor inspects nothing"
    )
