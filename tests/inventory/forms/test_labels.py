from __future__ import annotations

import pytest
from django.http import QueryDict

from inventory.forms.labels import LabelForm, RevokeTagForm, StartForm
from inventory.selectors.labels import LabelChoice
from tests.factories import make_room, make_school

pytestmark = pytest.mark.django_db


def test_nothing_chosen_means_what_was_never_printed_on_the_first_sheet(school):
    form = LabelForm(QueryDict(""), schools=[school])
    assert form.choice() == LabelChoice(only_unprinted=True)
    assert form.sheet_chosen == "30up"


def test_choices_are_read(school):
    room = make_room(school=school)
    query = f"which=all&school={school.pk}&room={room.pk}&kind=tuba&numbers=a-1,a-2&sheet=80up&tag=7"
    form = LabelForm(QueryDict(query), schools=[school, make_school()])
    assert form.choice() == LabelChoice(
        numbers=("A-1", "A-2"), tag=7, school=school.pk, room=room.pk, kind="tuba", only_unprinted=False
    )
    assert form.sheet_chosen == "80up"


def test_what_is_unknown_counts_as_not_given(school):
    form = LabelForm(QueryDict("which=x&room=999&kind=kazoo&sheet=7up&tag=x"), schools=[school])
    assert form.choice() == LabelChoice()
    assert form.sheet_chosen == "30up"


@pytest.mark.parametrize("start", ["0", "-1", "x", ""])
def test_a_place_is_a_number_from_one(start):
    assert not StartForm({"start": start}).is_valid()


def test_revoking_needs_a_reason():
    assert not RevokeTagForm({"because": "  "}).is_valid()
