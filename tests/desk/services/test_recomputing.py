"""Stored state follows the district's figures, in the background; until then nothing counts as broken."""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from desk.services.recomputing import recompute_all
from inventory.models import Instrument
from inventory.selectors.figures import is_recompute_due
from inventory.services.figures import set_figures
from tests.factories import make_limited_instrument, make_ready_instrument
from tests.opening import open_made

pytestmark = pytest.mark.django_db


def put(**values):
    now = timezone.now()
    return set_figures(values=values, effective_on=timezone.localdate(now), actor=None, at=now)


def verified():
    open_made()
    out = io.StringIO()
    call_command("verify", stdout=out)
    return out.getvalue()


def test_until_it_is_done_verify_says_so_and_finds_nothing_broken():
    instrument = make_ready_instrument()
    before = instrument.ready_until
    put(inspection_valid_days="400")
    assert "refresh pending" in verified()
    now = timezone.now()
    assert recompute_all(because="The district's figures changed.", actor=None, at=now)[0] == 1
    assert Instrument.objects.get().ready_until == before + timedelta(days=35)
    assert not is_recompute_due(at=now)
    assert "refresh pending" not in verified()


def test_a_verdict_follows_its_figure():
    """A third slide that cannot move leaves first and third valve 30 cents sharp, which 50 cents would allow."""
    make_limited_instrument()

    def limits(cents):
        put(pitch_limit_cents=cents)
        recompute_all(because="", actor=None, at=timezone.now())
        return " ".join(Instrument.objects.get().limits)

    assert "D4" not in limits("50")
    assert "D4" in limits("25")


def test_what_is_broken_otherwise_is_found_meanwhile():
    make_ready_instrument()
    put(inspection_valid_days="400")
    Instrument.objects.update(whereabouts="on_bench")
    with pytest.raises(CommandError):
        verified()


def test_the_command_does_it_too():
    make_ready_instrument()
    put(inspection_valid_days="400")
    call_command("refresh_state", commit=True, stdout=io.StringIO())
    assert "refresh pending" not in verified()
