"""A part that was taken fits, goes back or on a shelf, or was a slip; both instruments follow."""

from __future__ import annotations

from datetime import timedelta
from functools import partial

import pytest
from django.utils.translation import override

from core.exceptions import RefusedError
from core.models import Event
from inventory.models import Finding, Instrument
from inventory.services.inspecting import close_findings
from inventory.services.state import move_instrument
from repairs.models import StockItem, StockMove, TakenPart
from repairs.selectors.donors import taken_differences
from repairs.selectors.stock import stock_differences
from repairs.services.donors import unmark_parts_instrument
from repairs.services.stock import count_stock, reverse_stock_move
from repairs.services.taken_parts import part_does_not_fit, part_fits, withdraw_taken_part
from tests.contests import at_once
from tests.factories import NOW, make_bench, make_inspection, make_instrument, make_ready_instrument, new_nonce
from tests.repairs.money_makers import make_parts_instrument, make_taken, missing_at

pytestmark = pytest.mark.django_db

LATER = NOW + timedelta(hours=1)
LACKS_BELL = ("bell", "missing_part", "severe")


@pytest.fixture
def donor():
    return make_parts_instrument(instrument=make_ready_instrument(maker="Plain Brass Works", model="B2"))


def lacking_its_bell():
    instrument = make_instrument()
    make_inspection(instrument=instrument, findings=[LACKS_BELL])
    return Instrument.objects.get(pk=instrument.pk)


def off(taken, goes="back", **fields):
    given = {"nonce": new_nonce(), "actor": taken.taken_by, "at": LATER} | fields
    return part_does_not_fit(taken=taken, goes=goes, **given)


def slip(taken, because="Not taken at all", **fields):
    given = {"nonce": new_nonce(), "actor": taken.taken_by, "at": LATER} | fields
    return withdraw_taken_part(taken=taken, because=because, **given)


def repair(instrument, *, by, at):
    keys = list(Finding.objects.filter(instrument=instrument).standing().values_list("pk", flat=True))
    told = {"because": "repaired", "reference": "job:1", "actor": by, "at": at}
    close_findings(instrument=instrument, finding_ids=keys, **told)


def test_whether_a_set_fits_is_said_of_all_of_it_and_told_to_both(donor):
    rows = make_taken(donor, "piston", is_set=True)
    part_fits(taken=rows[0], actor=donor.marked_by, at=LATER)
    assert set(TakenPart.objects.values_list("fit", flat=True)) == {"fits"}
    told = Event.objects.filter(act="part_fit_noted").exclude(thread="").values_list("thread", "after__named")
    assert set(told) == {
        (donor.instrument.thread, "pistons, 3 as a set"), (rows[0].onto.thread, "pistons, 3 as a set"),
    }  # fmt: skip


def test_back_on_its_instrument_it_is_not_missing_and_may_be_taken_again(donor):
    row = make_taken(donor, "bell")[0]
    assert missing_at(donor.instrument) == {("bell", "")}
    off(row, because="Rim too wide")
    assert missing_at(donor.instrument) == set()
    row.refresh_from_db()
    assert (row.fit, row.went, row.went_by, row.went_because) == ("does_not", "back", donor.marked_by, "Rim too wide")
    again = make_taken(donor, "bell")[0]
    assert missing_at(donor.instrument) == {("bell", "")}
    assert (again.fit, again.went) == ("", "")
    assert list(taken_differences()) == []


def test_a_set_goes_back_whole(donor):
    rows = make_taken(donor, "piston", is_set=True)
    off(rows[2])
    assert missing_at(donor.instrument) == set()
    assert set(TakenPart.objects.values_list("went", flat=True)) == {"back"}


def test_a_set_found_missing_as_a_whole_is_back_as_a_whole_and_one_of_it_is_not(donor):
    rows = make_taken(donor, "piston", is_set=True)
    button = make_taken(donor, "finger_button", place="2")[0]
    make_inspection(
        instrument=donor.instrument,
        findings=[("piston", "missing_part", "severe"), ("finger_button", "missing_part", "severe")],
    )
    off(rows[0])
    assert missing_at(donor.instrument) == {("finger_button", "")}
    with pytest.raises(RefusedError, match=r"No finding says that .* lacks just this"):
        off(button)


def test_on_a_shelf_it_is_stock_of_the_bench_and_still_missing_where_it_came_from(donor):
    bench, taker = make_bench(), make_ready_instrument()
    with override("es-mx"):
        off(make_taken(donor, "piston", onto=taker, is_set=True)[0], goes="shelf", bench=bench)
    item = StockItem.objects.get(bench=bench)
    assert (item.name, item.fits, item.quantity) == ("Pistons, 3 as a set", "Plain Brass Works B2", 1)
    assert item.unit == "each"
    move = item.moves.get()
    assert move.note == f"Off {donor.instrument.asset_number}, did not fit {taker.asset_number}."
    assert len(missing_at(donor.instrument)) == 3
    assert list(taken_differences()) == []
    other = make_parts_instrument(instrument=make_ready_instrument(maker="PLAIN brass works", model="b2"))
    off(make_taken(other, "piston", is_set=True)[0], goes="shelf", bench=bench)
    item.refresh_from_db()
    assert item.quantity == 2
    assert list(stock_differences()) == []


def test_from_a_shelf_it_goes_back_and_the_stock_follows(donor):
    row, bench = make_taken(donor, "bell")[0], make_bench()
    off(row, goes="shelf", bench=bench, because="Rim bent")
    with pytest.raises(RefusedError, match=f"{donor.marked_by} put it on a shelf on"):
        off(row, goes="shelf", bench=bench)
    off(row)
    assert StockItem.objects.get().quantity == 0
    assert missing_at(donor.instrument) == set()
    assert TakenPart.objects.get().went_because == "Rim bent"
    with pytest.raises(RefusedError, match=f"{donor.marked_by} put it back on {donor.instrument.asset_number} on"):
        off(row)


def test_what_is_no_longer_on_the_shelf_does_not_come_back_from_it(donor):
    row, bench = make_taken(donor, "bell")[0], make_bench()
    off(row, goes="shelf", bench=bench)
    item = StockItem.objects.get()
    count_stock(item=item, quantity=0, nonce=new_nonce(), actor=donor.marked_by, at=LATER)
    for act in (off, slip):
        with pytest.raises(RefusedError, match="no bell flare and rim left at"):
            act(row)
    assert missing_at(donor.instrument) == {("bell", "")}
    assert StockMove.objects.count() == 2


def test_what_it_had_repaired_is_open_again_when_it_comes_off(donor):
    taker = lacking_its_bell()
    row = make_taken(donor, "bell", onto=taker)[0]
    repair(taker, by=donor.marked_by, at=LATER)
    assert Instrument.objects.get(pk=taker.pk).readiness == "may_go_out"
    off(row, at=LATER + timedelta(hours=1))
    assert missing_at(taker) == {("bell", "")}
    assert Instrument.objects.get(pk=taker.pk).readiness == "stays_in"


def test_what_was_repaired_elsewhere_or_before_stays_repaired(donor):
    taker = make_instrument()
    make_inspection(instrument=taker, findings=[("leadpipe", "pinhole", "severe"), LACKS_BELL])
    repair(taker, by=donor.marked_by, at=NOW - timedelta(hours=1))
    off(make_taken(donor, "bell", onto=taker)[0])
    assert not Finding.objects.filter(instrument=taker).standing().exists()


def test_a_slip_needs_a_reason_and_leaves_both_as_if_nothing_had_been_taken(donor):
    taker = lacking_its_bell()
    row = make_taken(donor, "bell", onto=taker)[0]
    repair(taker, by=donor.marked_by, at=LATER)
    with pytest.raises(RefusedError, match="Say what was wrong"):
        slip(row, because=" ")
    slip(row, at=LATER + timedelta(hours=1))
    assert missing_at(donor.instrument) == set()
    assert missing_at(taker) == {("bell", "")}
    assert Finding.objects.get(instrument=donor.instrument).closed_because == "withdrawn"
    with pytest.raises(RefusedError, match=f"{donor.marked_by} said on .* entered by mistake"):
        off(row)
    with pytest.raises(RefusedError, match="entered by mistake"):
        part_fits(taken=row, actor=donor.marked_by, at=LATER)
    assert set(Event.objects.filter(act="part_slip").values_list("thread", flat=True)) == {
        donor.instrument.thread, taker.thread,
    }  # fmt: skip


def test_what_was_taken_out_of_stock_on_its_own_page_still_goes_back(donor):
    row = make_taken(donor, "bell")[0]
    off(row, goes="shelf", bench=make_bench())
    move = StockMove.objects.get()
    reverse_stock_move(move=move, because="Not here", nonce=new_nonce(), actor=donor.marked_by, at=LATER)
    off(row)
    assert StockItem.objects.get().quantity == 0
    assert missing_at(donor.instrument) == set()


def test_a_slip_of_what_is_on_a_shelf_takes_it_out_of_stock(donor):
    row = make_taken(donor, "bell")[0]
    off(row, goes="shelf", bench=make_bench())
    slip(row)
    assert StockItem.objects.get().quantity == 0
    assert missing_at(donor.instrument) == set()


@pytest.mark.parametrize(("goes", "words"), [("shelf", "Choose the bench"), ("moon", "Say where"), ("", "Say where")])
def test_where_it_goes_has_to_be_said(donor, goes, words):
    row = make_taken(donor, "bell")[0]
    with pytest.raises(RefusedError, match=words):
        off(row, goes=goes)
    assert missing_at(donor.instrument) == {("bell", "")}


@pytest.mark.parametrize("side", ["onto", "donor"])
def test_nothing_comes_off_or_goes_back_on_what_is_not_here(donor, side):
    row = make_taken(donor, "bell")[0]
    away = row.onto if side == "onto" else donor.instrument
    move_instrument(instrument=away, expected="in_store", to="not_found", actor=donor.marked_by, at=NOW)
    with pytest.raises(RefusedError, match=f"{away.asset_number} is .*must be in storage or on the bench"):
        off(row)
    assert missing_at(donor.instrument) == {("bell", "")}
    assert TakenPart.objects.get().went == ""


def test_what_has_been_replaced_since_goes_on_a_shelf_only(donor):
    row = make_taken(donor, "bell")[0]
    unmark_parts_instrument(parts_instrument=donor, because="Plays again", actor=donor.marked_by, at=NOW)
    repair(donor.instrument, by=donor.marked_by, at=LATER)
    with pytest.raises(RefusedError, match="Put it on a shelf"):
        off(row)
    off(row, goes="shelf", bench=make_bench())
    assert StockItem.objects.get().quantity == 1


def test_posted_twice_it_goes_once(donor):
    row, bench, key = make_taken(donor, "bell")[0], make_bench(), new_nonce()
    for _ in range(2):
        off(row, goes="shelf", bench=bench, nonce=key)
    assert StockItem.objects.get().quantity == 1
    key = new_nonce()
    for _ in range(2):
        slip(row, nonce=key)
    assert StockItem.objects.get().quantity == 0


@pytest.mark.django_db(transaction=True)
def test_of_two_who_take_the_same_part_one_gets_it():
    donor, takers = make_parts_instrument(), [make_ready_instrument() for _ in range(2)]
    answers = at_once(*(partial(make_taken, donor, "bell", onto=onto) for onto in takers))
    (refused,) = (one for one in answers if isinstance(one, RefusedError))
    row = TakenPart.objects.get()
    assert f"Already taken for {row.onto.asset_number} by {donor.marked_by}" in str(refused)
    assert missing_at(donor.instrument) == {("bell", "")}
    assert list(taken_differences()) == []


@pytest.mark.django_db(transaction=True)
def test_of_two_who_put_the_same_part_away_stock_and_instrument_agree():
    donor, bench = make_parts_instrument(), make_bench()
    row = make_taken(donor, "bell")[0]
    at_once(partial(off, row), partial(off, row, goes="shelf", bench=bench))
    # Whoever was first: from the shelf it goes back, from there it does not go on a shelf.
    assert TakenPart.objects.get().went == "back"
    assert sum(item.quantity for item in StockItem.objects.all()) == 0
    assert missing_at(donor.instrument) == set()
    assert list(stock_differences()) == []
