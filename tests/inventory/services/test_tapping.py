from __future__ import annotations

from uuid import uuid4

import pytest

from core.models import PostedForm
from inventory.exceptions import RefusedError
from inventory.models import Purpose
from inventory.services.inspecting import look_at_part
from inventory.services.tapping import take_tap
from tests.factories import NOW, make_inspection, make_instrument


@pytest.fixture
def draft(school):
    return make_inspection(instrument=make_instrument(school=school), purpose=Purpose.SPOT, finish=False)


def test_a_tap_sent_twice_is_done_once(draft, tech):
    done = []
    key = uuid4()
    for times in (1, 2):
        take_tap(inspection=draft, key=key, actor=tech, at=NOW, act=lambda times=times: done.append(times))
    assert done == [1]


def test_a_tap_without_a_key_is_done_each_time(draft, tech):
    done = []
    for _ in range(2):
        take_tap(inspection=draft, key=None, actor=tech, at=NOW, act=lambda: done.append(1))
    assert done == [1, 1]
    assert not PostedForm.objects.exists()


def test_a_refused_tap_leaves_no_key_behind(draft, tech):
    key = uuid4()
    with pytest.raises(RefusedError):
        take_tap(
            inspection=draft,
            key=key,
            actor=tech,
            at=NOW,
            act=lambda: look_at_part(inspection=draft, part="no_such_part", actor=tech, at=NOW),
        )
    assert not PostedForm.objects.exists()
    take_tap(inspection=draft, key=key, actor=tech, at=NOW, act=lambda: None)
    assert PostedForm.objects.get().key == str(key)
