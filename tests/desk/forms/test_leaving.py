"""What is asked where an instrument leaves. Common practice, no source."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from desk.forms.leaving import (
    BringBackForm,
    ChangeDisposalForm,
    KindForm,
    LeaveForm,
    OfferForm,
    OutForm,
    SettleOfferForm,
)
from inventory.models import Role
from inventory.selectors.leaving import federal_terms
from tests.factories import TODAY, make_instrument, make_school, make_user
from tests.inventory.leaving_makers import make_disposal

pytestmark = pytest.mark.django_db


def form_of(instrument, asker, value=50, **data):
    given = {"way": "scrapped", "on": TODAY.isoformat(), "because": "Cracked."} | data
    return LeaveForm(given, instrument=instrument, value=Decimal(value), terms=federal_terms(instrument), asker=asker)


def test_a_sale_asks_what_was_paid_and_nothing_else_does(school, director, administrator):
    horn = make_instrument(school=school)
    asked = form_of(horn, director, way="sold", approved_by=administrator.pk)
    assert [*asked.errors] == ["proceeds_amount"]
    assert "proceeds_amount" in form_of(horn, director, approved_by=administrator.pk, proceeds_amount=5).errors
    good = form_of(horn, director, way="sold", approved_by=administrator.pk, proceeds_amount="0")
    assert good.is_valid()
    assert good.columns()["is_confirmed"] is False
    assert "password" not in good.columns()


def test_above_the_limit_the_approver_types_a_password_and_the_district_approves(school, director, administrator):
    horn = make_instrument(school=school)
    asked = form_of(horn, director, value=101, approved_by=administrator.pk)
    assert [*asked.errors] == ["password"]
    assert form_of(horn, director, value=101, approved_by=administrator.pk, password="x").columns
    large = form_of(horn, administrator, value=1001, approved_by=director.pk, password="x")
    assert [*large.errors] == ["approved_by"]


def test_only_who_may_approve_it_is_offered_and_where_nobody_is_it_says_who_records_it(school, director, administrator):
    horn = make_instrument(school=school)

    def field(asker, value):
        form = LeaveForm(instrument=horn, value=Decimal(value), terms=None, asker=asker)
        return set(form.fields["approved_by"].queryset), form.fields["approved_by"].help_text

    assert field(director, 1001)[0] == {administrator}
    assert field(administrator, 1000)[0] == {director}
    offered, said = field(administrator, "1000.01")
    assert not offered
    assert said.startswith("Nobody else may approve $1,000.01")
    assert "Have somebody else record it" in said
    large = form_of(horn, administrator, way="sold", proceeds_amount="1000.01", approved_by=director.pk)
    assert large.errors["approved_by"] == [said]
    other = make_user(Role.ADMINISTRATOR)
    large = form_of(horn, administrator, way="sold", proceeds_amount="1000.01", approved_by=director.pk)
    assert "Choose somebody at the district" in str(large.errors["approved_by"])
    assert set(large.fields["approved_by"].queryset) == {other}


def test_what_a_federal_award_paid_for_asks_its_market_value(school, director, administrator):
    plain = form_of(make_instrument(school=school), director)
    assert not {"market_amount", "keeps_handling"} & set(plain.fields)
    cost = {"federal_percent": Decimal(60), "awarded_on": date(2025, 1, 1)}
    supply = form_of(make_instrument(school=school, acquisition_cost_amount=Decimal(900), **cost), director)
    assert "keeps_handling" not in supply.fields
    piece = make_instrument(school=school, acquisition_cost_amount=Decimal(16_000), **cost)
    assert "market_amount" in form_of(piece, director, approved_by=administrator.pk).errors
    assert "market_amount" not in form_of(piece, director, way="error", approved_by=administrator.pk).errors


def test_forms_ask_only_what_can_be_answered(school, director):
    error, sold = make_disposal(way="error"), make_disposal()
    assert "how" not in BringBackForm(is_error=True).fields
    assert "how" in BringBackForm(is_error=False).fields
    assert "proceeds_amount" not in ChangeDisposalForm(disposal=error, asker=director).fields
    assert ChangeDisposalForm(disposal=sold, asker=director).initial["proceeds_amount"] == sold.proceeds_amount
    assert "room_name" not in SettleOfferForm(may_agree=False).fields
    horn = make_instrument(school=school)
    there = make_school()
    offered = OfferForm({"to_school": there.pk}, instrument=horn, accessories=list(horn.accessories.all()))
    assert offered.is_valid()
    assert set(offered.accessories()) == {one.code for one in horn.accessories.all()}
    assert horn.kind_code not in dict(KindForm(instrument=horn).fields["kind_code"].choices)


def test_what_cannot_be_read_does_not_narrow(school):
    assert OutForm(None, schools=[school]).narrowed() == {}
    other = make_school()
    found = OutForm({"way": "sold", "school": other.pk, "first": "soon"}, schools=[school, other]).narrowed()
    assert found == {"way": "sold", "school": other.pk}
