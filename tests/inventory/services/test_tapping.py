from __future__ import annotations

from uuid import uuid4

import pytest

from inventory.exceptions import RefusedError
from inventory.models import Purpose
from inventory.services.inspecting import look_at_part
from inventory.services.tapping import take_tap
from tests.factories import NOW, make_inspection, make_instrument


@pytest.fixture
def draft(school):
    return make_inspection(instrument=make_instrument(school=school), purpose=Purpose.SPOT, finish=False)


def test_a_tap_sent_twice_is_done_once(draft):
    done = []
    key = uuid4()
    assert take_tap(inspection=draft, key=key, at=NOW, act=lambda: done.append(1)) is True
    assert take_tap(inspection=draft, key=key, at=NOW, act=lambda: done.append(2)) is False
    assert done == [1]


def test_a_tap_without_a_key_is_done_each_time(draft):
    done = []
    for _ in range(2):
        take_tap(inspection=draft, key=None, at=NOW, act=lambda: done.append(1))
    assert done == [1, 1]
    assert draft.taps.count() == 0


def test_a_refused_tap_leaves_no_key_behind(draft, tech):
    key = uuid4()
    with pytest.raises(RefusedError):
        take_tap(
            inspection=draft,
            key=key,
            at=NOW,
            act=lambda: look_at_part(inspection=draft, part="no_such_part", actor=tech, at=NOW),
        )
    assert draft.taps.count() == 0
    assert take_tap(inspection=draft, key=key, at=NOW, act=lambda: None) is True
