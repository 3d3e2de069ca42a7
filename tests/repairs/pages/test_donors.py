"""What parts instruments have, gave and taught."""

from __future__ import annotations

import pytest

from inventory.models import Instrument
from repairs.models import TakenPart
from repairs.pages.donors import donor_fits, offers_of, taken_lines
from repairs.selectors.donors import taken_from
from repairs.services.taken_parts import part_does_not_fit, part_fits, withdraw_taken_part
from tests.factories import NOW, make_bench, make_inspection, make_instrument, make_ready_instrument, new_nonce
from tests.repairs.money_makers import make_parts_instrument, make_taken

pytestmark = pytest.mark.django_db


def take(parts_instrument, part, *, fit="", **fields):
    rows, by = make_taken(parts_instrument, part, **fields), {"actor": parts_instrument.marked_by, "at": NOW}
    if fit == "fits":
        part_fits(taken=rows[0], **by)
    elif fit:
        part_does_not_fit(taken=rows[0], goes="back", nonce=new_nonce(), **by)
    return rows


def names(parts_instrument):
    return [offer.name for offer in offers_of(parts_instrument)]


def lines_of(parts_instrument):
    return taken_lines(taken_from(parts_instrument))


def test_a_set_is_one_offer_and_goes_when_taken():
    parts_instrument = make_parts_instrument()
    assert names(parts_instrument).count("pistons, 3 as a set") == 1
    assert not any(name.startswith("pistons 1") for name in names(parts_instrument))
    take(parts_instrument, "piston", is_set=True)
    assert "pistons, 3 as a set" not in names(parts_instrument)


def test_a_part_with_places_is_offered_place_by_place():
    parts_instrument = make_parts_instrument()
    before = [name for name in names(parts_instrument) if name.startswith("finger buttons")]
    assert len(before) == 3
    take(parts_instrument, "finger_button", place="2")
    assert len([name for name in names(parts_instrument) if name.startswith("finger buttons")]) == 2


def test_what_is_wrong_with_a_part_is_said():
    instrument = make_instrument()
    make_inspection(instrument=instrument, findings=[("main_tuning_slide", "slide_seized", "severe")])
    parts_instrument = make_parts_instrument(instrument=Instrument.objects.get(pk=instrument.pk))
    trouble = {offer.key: offer.trouble for offer in offers_of(parts_instrument)}
    assert "seized" in trouble["main_tuning_slide:"]
    assert trouble["bell:"] == ""


def test_the_page_tells_what_went_where_a_set_as_one_line():
    parts_instrument, onto = make_parts_instrument(), make_ready_instrument()
    take(parts_instrument, "piston", is_set=True, onto=onto)
    take(parts_instrument, "bell", onto=onto, fit="fits")
    lines = lines_of(parts_instrument)
    assert {(one.words, one.first.onto, one.became) for one in lines} == {
        ("pistons, 3 as a set", onto, "not said yet whether it fits"),
        ("bell flare and rim", onto, "fits"),
    }


def test_what_an_inspection_found_missing_is_not_offered():
    instrument = make_instrument()
    make_inspection(
        instrument=instrument,
        findings=[("piston", "missing_part", "severe", "2"), ("finger_button", "missing_part", "light")],
    )
    offered = names(make_parts_instrument(instrument=Instrument.objects.get(pk=instrument.pk)))
    assert "pistons, 2 as a set" in offered
    assert not any(name.startswith("finger buttons") for name in offered)


def test_what_fits_what_is_counted_by_model_a_set_once():
    off = make_parts_instrument(instrument=make_ready_instrument(model="B2"))
    for fit in ("fits", "does_not"):
        onto = make_ready_instrument(model="B3")
        part, is_set = ("piston", True) if fit == "fits" else ("bell", False)
        take(off, part, onto=onto, fit=fit, is_set=is_set)
    found = {fit["part"]: (fit["off"], fit["onto"], fit["fits"], fit["does_not"]) for fit in donor_fits(kind="trumpet")}
    assert found["pistons"] == ("Plain Brass Works B2", "Plain Brass Works B3", 1, 0)
    assert [one[2:] for name, one in found.items() if name != "pistons"] == [(0, 1)]
    assert donor_fits(kind="tuba") == []


def test_what_became_of_a_part_is_said_with_who_and_when():
    donor, bench = make_parts_instrument(), make_bench(name="Alder bench")
    by, who = {"actor": donor.marked_by, "at": NOW}, donor.marked_by.name
    parts = ("bell", "main_tuning_slide", "leadpipe", "mouthpiece")
    back, shelf, slip, old = (take(donor, part)[0] for part in parts)
    part_does_not_fit(taken=back, goes="back", because="Rim too wide", nonce=new_nonce(), **by)
    part_does_not_fit(taken=shelf, goes="shelf", bench=bench, nonce=new_nonce(), **by)
    withdraw_taken_part(taken=slip, because="Wrong pipe", nonce=new_nonce(), **by)
    TakenPart.objects.filter(pk=old.pk).update(fit="does_not")
    on, number = f"{NOW:%b} {NOW.day}", donor.instrument.asset_number
    assert {one.first.pk: one.became for one in lines_of(donor)} == {
        back.pk: f"does not fit, back on {number} since {on}, {who}. Rim too wide",
        shelf.pk: f"does not fit, in stock at Alder bench since {on}, {who}",
        slip.pk: f"entered by mistake: Wrong pipe ({who}, {on})",
        old.pk: "does not fit; nobody said where it went",
    }


def test_a_slip_teaches_nothing():
    donor = make_parts_instrument()
    row = take(donor, "bell", fit="fits")[0]
    withdraw_taken_part(taken=row, because="Another", nonce=new_nonce(), actor=donor.marked_by, at=NOW)
    assert donor_fits() == []
