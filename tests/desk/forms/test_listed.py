from __future__ import annotations

import pytest

from desk.forms.listed import MergeForm
from inventory.models import Instrument
from tests.factories import make_instrument

pytestmark = pytest.mark.django_db


def test_the_other_record_is_found_however_its_number_is_typed():
    other = make_instrument()
    form = MergeForm({"other": f"  {other.asset_number.lower()} "}, others=Instrument.objects.all())
    assert form.is_valid()
    assert form.cleaned_data["other"] == other


def test_a_number_that_is_not_among_them_is_refused_by_name():
    form = MergeForm({"other": "zz-9"}, others=Instrument.objects.none())
    assert form.errors["other"] == ["There is no other record ZZ-9 here."]
