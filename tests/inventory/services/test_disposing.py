"""Out of the fleet, and back. Common practice, no source, but for what is said at a check."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest

from core.exceptions import RefusedError
from core.models import Event
from core.photos import clean_scan
from inventory.catalog.load import catalog
from inventory.models import Custody, Disposal, Instrument, Whereabouts
from inventory.services.disposing import bring_back, correct_disposal, keep_paper, leave_fleet, withdraw_paper
from inventory.services.registering import register_instrument
from inventory.services.state import move_instrument
from tests.catalogs import using, with_setting
from tests.factories import NOW, TODAY, make_director, make_instrument
from tests.inventory.leaving_makers import make_disposal
from tests.opening import differences
from tests.pictures import jpeg

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(days=3)


def test_what_is_sold_is_gone_with_how_when_for_what_and_by_whom(school, director, administrator):
    horn = make_instrument(school=school)
    sold = make_disposal(
        horn, actor=director, approved_by=administrator, recipient="Plain Pawn Shop", on=TODAY - timedelta(days=2)
    )
    horn.refresh_from_db()
    assert horn.whereabouts == Whereabouts.GONE
    assert horn not in Instrument.objects.present()
    assert list(Instrument.objects.out_of_fleet()) == [horn]
    assert (sold.way, sold.proceeds_amount, sold.approved_by, sold.is_confirmed) == ("sold", 40, administrator, False)
    assert sold.custody.whereabouts == Whereabouts.GONE
    assert differences()[1] == []
    with pytest.raises(RefusedError, match="already left the fleet"):
        make_disposal(horn)


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"because": " "}, "Enter a reason"),
        ({"on": TODAY + timedelta(days=1)}, "future"),
        ({"on": date(2018, 6, 30)}, "before it was acquired"),
        ({"way": "scrapped", "proceeds_amount": Decimal(5)}, "Proceeds are for"),
        ({"proceeds_amount": None}, "what was paid"),
        ({"value_amount": Decimal(101)}, "types their own password"),  # the district's figure is $100
        ({"value_amount": Decimal(5), "proceeds_amount": Decimal(101)}, "types their own password"),
    ],
)
def test_what_is_not_right_is_refused_and_nothing_is_written(fields, words):
    horn = make_instrument(acquired_on=date(2018, 7, 1))
    with pytest.raises(RefusedError, match=words):
        make_disposal(horn, **fields)
    assert not Disposal.objects.exists()
    assert Instrument.objects.get(pk=horn.pk).whereabouts == Whereabouts.IN_STORE


def test_who_approves_hangs_on_the_amount_and_is_somebody_else(school, director, administrator):
    other = make_director(school=school)
    at_limit = {"value_amount": Decimal(1000), "is_confirmed": True, "actor": director}  # the district's figure
    make_disposal(make_instrument(school=school), approved_by=other, **at_limit)
    above = at_limit | {"value_amount": Decimal("1000.01")}
    for approver in (other, director, make_director()):  # not the district, oneself, another school
        with pytest.raises(RefusedError, match="who approved it"):
            make_disposal(make_instrument(school=school), approved_by=approver, **above)
    make_disposal(make_instrument(school=school), approved_by=administrator, **above)
    with using(with_setting(catalog(), "approver_is_another", 0)):
        own = make_disposal(make_instrument(school=school), approved_by=director, actor=director)
    assert own.approved_by == director


@pytest.mark.parametrize("where", [Whereabouts.WITH_STUDENT, Whereabouts.ON_BENCH, Whereabouts.AT_SHOP])
def test_what_is_elsewhere_comes_back_first(where):
    horn = make_instrument()
    move_instrument(instrument=horn, expected=Whereabouts.IN_STORE, to=where, actor=None, at=NOW)
    with pytest.raises(RefusedError, match="Bring it back"):
        make_disposal(horn)
    move_instrument(instrument=horn, expected=where, to=Whereabouts.IN_STORE, actor=None, at=LATER)
    with pytest.raises(RefusedError, match="before it came back"):
        make_disposal(horn, at=LATER, on=TODAY + timedelta(days=2))
    make_disposal(horn, at=LATER, on=TODAY + timedelta(days=3))


def test_what_is_not_found_is_written_off_and_not_sold():
    horn = make_instrument()
    move_instrument(instrument=horn, expected=Whereabouts.IN_STORE, to=Whereabouts.NOT_FOUND, actor=None, at=NOW)
    with pytest.raises(RefusedError, match="not found"):
        make_disposal(horn)
    stolen = make_disposal(horn, way="stolen", findings="The lock \r\nwas cut. ", police_number=" 26-1\n")
    assert (stolen.findings, stolen.police_number) == ("The lock\nwas cut.", "26-1")
    corrected = correct_disposal(
        disposal=stolen, findings="The lock was cut; a film shows it.", agency_notified_on=TODAY, actor=stolen.actor,
        at=LATER,
    )  # fmt: skip
    assert (corrected.findings, corrected.agency_notified_on) == ("The lock was cut; a film shows it.", TODAY)
    with pytest.raises(RefusedError, match="Proceeds are for"):
        correct_disposal(disposal=stolen, proceeds_amount=Decimal(5), actor=stolen.actor, at=LATER)
    assert differences()[1] == []


def test_what_never_left_is_back_as_if_it_had_not(director):
    wrong = make_disposal()
    back = bring_back(disposal=wrong, because="Wrong number.", was_wrong=True, actor=director, at=LATER)
    assert (back.was_wrong, back.back_on, back.ended_by) == (True, None, director)
    assert back.instrument.whereabouts == Whereabouts.IN_STORE
    assert Custody.objects.get(pk=wrong.custody_id).undone_at == LATER
    assert differences()[1] == []
    with pytest.raises(RefusedError, match="is already back"):
        bring_back(disposal=wrong, because="Again.", was_wrong=True, actor=director, at=LATER)
    make_disposal(back.instrument, at=LATER)


def test_what_came_back_was_away_until_then(director):
    stolen = make_disposal(way="stolen")
    for day, words in ((TODAY - timedelta(days=1), "between"), (TODAY + timedelta(days=4), "between")):
        with pytest.raises(RefusedError, match=words):
            bring_back(disposal=stolen, because="Police.", was_wrong=False, back_on=day, actor=director, at=LATER)
    with pytest.raises(RefusedError, match="why it is back"):
        bring_back(disposal=stolen, because="", was_wrong=False, actor=director, at=LATER)
    back = bring_back(
        disposal=stolen, because="Police.", was_wrong=False, back_on=TODAY + timedelta(days=1), actor=director, at=LATER
    )
    assert (back.was_wrong, back.back_on) == (False, TODAY + timedelta(days=1))
    assert Custody.objects.get(pk=stolen.custody_id).undone_at is None


def test_what_was_entered_in_error_keeps_its_number_and_frees_its_serial(school, director):
    horn = make_instrument(school=school, asset_number="E-7", maker="Plain Brass Works", serial="77")
    error = make_disposal(horn, way="error", because="Counted twice.")
    horn.refresh_from_db()
    assert horn.is_entered_in_error
    assert horn not in Instrument.objects.out_of_fleet()
    again = {"kind_code": "trumpet", "school": school, "actor": director, "at": NOW, "maker": horn.maker}
    with pytest.raises(RefusedError, match="E-7 is taken"):
        register_instrument(asset_number="E-7", **again)
    other = register_instrument(asset_number="E-8", serial="77", **again)
    assert differences()[1] == []
    with pytest.raises(RefusedError, match="serial 77"):
        bring_back(disposal=error, because="It is one.", was_wrong=True, actor=director, at=LATER)
    make_disposal(other, way="error", at=LATER)
    assert bring_back(disposal=error, because="It is one.", was_wrong=True, actor=director, at=LATER).instrument.serial
    assert not Instrument.objects.get(pk=horn.pk).is_entered_in_error
    assert differences()[1] == []


def test_a_paper_is_kept_once_with_its_hash(director):
    sold = make_disposal()
    keep = {"instrument": sold.instrument, "scan": clean_scan(jpeg()), "disposal": sold, "actor": director, "at": NOW}
    paper = keep_paper(title="Bill of sale", **keep)
    assert keep_paper(title="Once more", **keep) == paper
    assert paper.file.name.startswith("papers/")
    gone = withdraw_paper(paper=paper, because=" Of another  horn ", actor=director, at=LATER)
    assert (gone.withdrawn_at, gone.withdrawn_by, gone.withdrawn_because) == (LATER, director, "Of another horn")
    assert Event.objects.get(act="paper_withdrawn").thread == sold.instrument.thread
    with pytest.raises(RefusedError, match="already been withdrawn"):
        withdraw_paper(paper=paper, because="Again", actor=director, at=LATER)
    assert keep_paper(title="Bill of sale", **keep) != paper
    assert differences()[1] == []


def test_an_unknown_column_is_a_slip_of_the_caller(director):
    with pytest.raises(TypeError, match="way"):
        correct_disposal(disposal=make_disposal(), way="lost", actor=director, at=NOW)


def test_the_same_form_twice_leaves_once(school, director, administrator):
    horn = make_instrument(school=school)
    form = {
        "instrument": horn, "way": "scrapped", "on": TODAY, "because": "Cracked.", "value_amount": Decimal(0),
        "actor": director, "approved_by": administrator, "at": NOW, "nonce": "6d1f2d5e-0e0b-4f0e-9a53-3b8a0c5bd001",
    }  # fmt: skip
    assert leave_fleet(**form) == leave_fleet(**form)


@pytest.mark.parametrize(
    ("way", "market", "fields", "owed"),
    [  # 2 CFR 200.313(e), revision of 2024: share of the proceeds, else of the market value, above $10,000
        ("sold", "10000.00", {"proceeds_amount": Decimal(9000)}, Decimal(0)),
        ("sold", "15000.00", {"proceeds_amount": Decimal(15000)}, Decimal(9000)),
        ("sold", "15000.00", {"proceeds_amount": Decimal(15000), "keeps_handling": True}, Decimal(8000)),
        ("given_away", "10000.01", {}, Decimal("6000.01")),
        ("stolen", "15000.00", {}, None),
        ("error", "15000.00", {}, None),
    ],
)
def test_the_awarding_agency_is_owed_its_share(administrator, way, market, fields, owed):
    horn = make_instrument(
        federal_percent=Decimal(60), awarded_on=date(2025, 1, 1), acquisition_cost_amount=Decimal(16_000)
    )
    given = {"approved_by": administrator, "is_confirmed": True, "way": way} | fields
    if way != "error":
        with pytest.raises(RefusedError, match="fair market value"):
            make_disposal(horn, **given)
    gone = make_disposal(horn, market_amount=Decimal(market), **given)
    assert (gone.share_amount, gone.federal_percent) == (owed, None if way == "error" else 60)


@pytest.mark.parametrize(("keeps", "owed", "corrected"), [(False, 9000, 7200), (True, 8000, 6200)])
def test_the_share_follows_corrected_proceeds(administrator, keeps, owed, corrected):
    horn = make_instrument(
        federal_percent=Decimal(60), awarded_on=date(2025, 1, 1), acquisition_cost_amount=Decimal(16_000)
    )
    sold = make_disposal(
        horn, market_amount=Decimal(15_000), proceeds_amount=Decimal(15_000), keeps_handling=keeps,
        approved_by=administrator, is_confirmed=True,
    )  # fmt: skip
    assert sold.share_amount == owed
    change = {"disposal": sold, "actor": sold.actor, "at": LATER}
    assert correct_disposal(recipient="A dealer", proceeds_amount=Decimal(15_000), **change).share_amount == owed
    assert correct_disposal(proceeds_amount=Decimal(12_000), **change).share_amount == corrected
    with pytest.raises(RefusedError, match="what was paid"):
        correct_disposal(proceeds_amount=None, **change)
    assert differences()[1] == []


@pytest.mark.parametrize(
    ("approver", "is_confirmed", "words"),
    [
        (None, False, "Say who approved it"),
        ("actor", True, "Say who approved it"),
        ("other", True, "Say who approved it"),  # a director, above the district's limit of $1,000
        ("administrator", False, "types their own password"),
    ],
)
def test_proceeds_corrected_above_a_limit_are_approved_again(school, administrator, approver, is_confirmed, words):
    director, other = make_director(school=school), make_director(school=school)
    sold = make_disposal(make_instrument(school=school), actor=director, approved_by=other)
    people = {"actor": director, "other": other, "administrator": administrator}
    change = {"disposal": sold, "proceeds_amount": Decimal(40_000), "actor": director, "at": LATER}
    with pytest.raises(RefusedError, match=words):
        correct_disposal(**change, approved_by=people.get(approver), is_confirmed=is_confirmed)
    assert Disposal.objects.get().proceeds_amount == 40
    done = correct_disposal(**change, approved_by=administrator, is_confirmed=True)
    assert (done.proceeds_amount, done.approved_by, done.is_confirmed) == (40_000, administrator, True)
    assert Event.objects.get(act="disposal_corrected").after["approved_by"] == administrator.pk
    assert differences()[1] == []


@pytest.mark.parametrize(
    ("proceeds", "is_refused"),
    [("100.00", False), ("100.01", True)],  # the district's figure for a password is $100; the value is $50
)
def test_proceeds_corrected_up_to_the_limit_need_no_other_approval(proceeds, is_refused):
    sold = make_disposal()
    change = {"disposal": sold, "proceeds_amount": Decimal(proceeds), "actor": sold.actor, "at": LATER}
    if is_refused:
        with pytest.raises(RefusedError, match="Say who approved it"):
            correct_disposal(**change)
    else:
        assert correct_disposal(**change).approved_by == sold.approved_by


def test_proceeds_corrected_below_what_was_approved_keep_its_approver(director, administrator):
    sold = make_disposal(value_amount=Decimal(900), approved_by=administrator, is_confirmed=True)
    change = {"disposal": sold, "actor": sold.actor, "at": LATER, "approved_by": director}
    done = correct_disposal(proceeds_amount=Decimal(900), **change)
    assert (done.proceeds_amount, done.approved_by, done.is_confirmed) == (900, administrator, True)


def test_a_supply_owes_no_share_of_its_own(administrator):
    """2 CFR 200.314: of supplies only an unused stock above $10,000 in all counts."""
    horn = make_instrument(federal_percent=Decimal(60), acquisition_cost_amount=Decimal("4999.99"))
    gone = make_disposal(horn, market_amount=Decimal(12_000), approved_by=administrator, is_confirmed=True)
    assert gone.share_amount is None


def test_tags_end_with_what_leaves_and_stay_on_what_may_be_found():
    sold, stolen = make_instrument(), make_instrument()
    make_disposal(sold)
    make_disposal(stolen, way="stolen")
    assert (sold.tags.live().count(), stolen.tags.live().count()) == (0, 1)
