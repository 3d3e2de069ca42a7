from __future__ import annotations

import pytest

from inventory.forms.setup import DistrictForm, NameForm, PersonForm, RoleForm, SchoolForm
from tests.factories import make_district, make_user

pytestmark = pytest.mark.django_db


def test_a_prefix_is_raised_to_capitals():
    form = DistrictForm(
        {"name": "D", "asset_prefix": "av-", "asset_digits": 4, "next_asset_number": 1, "return_words": "Bring it."},
        instance=make_district(),
    )
    assert form.is_valid(), form.errors
    assert form.cleaned_data["asset_prefix"] == "AV-"


def test_the_code_of_a_school_is_asked_once(school):
    assert "code" in SchoolForm().fields
    known = SchoolForm(school=school)
    assert "code" not in known.fields
    assert known["name"].value() == school.name


def test_a_director_needs_a_school_and_others_may_have_the_district(school):
    assert "school" in RoleForm({"role": "director"}).errors
    assert RoleForm({"role": "director", "school": school.pk}).is_valid()
    assert RoleForm({"role": "auditor"}).is_valid()
    assert "role" in RoleForm({"role": "king"}).errors


def test_a_person_is_shown_as_known():
    person = make_user(email="p@school.example")
    assert NameForm(person=person)["email"].value() == "p@school.example"


def test_a_password_is_never_written_back():
    assert "slide-grease" not in PersonForm({"password": "slide-grease-and-kindness"}).as_p()
