"""What an act asks once for many. Common practice, no source."""

from __future__ import annotations

import pytest

from desk.forms.picking import SelectionMoveForm
from tests.factories import make_room

pytestmark = pytest.mark.django_db


def test_rooms_of_several_schools_are_named_with_their_school():
    ours, theirs = make_room(name="Annex"), make_room(name="Annex")
    make_room(name="Elsewhere")
    form = SelectionMoveForm(schools={ours.school_id, theirs.school_id})
    offered = {label for _key, label in form.fields["room"].choices if _key}
    assert offered == {f"Annex, {ours.school.name}", f"Annex, {theirs.school.name}"}
    assert "Annex" in dict(SelectionMoveForm(schools={ours.school_id}).fields["room"].choices).values()
