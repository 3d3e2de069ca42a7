from __future__ import annotations

import io

import pytest
from django.core.management import call_command
from django.utils import timezone

from core.management.scoped import ScopedCommand
from inventory.services.figures import set_figures
from tests.factories import make_district

pytestmark = pytest.mark.django_db


class Tell(ScopedCommand):
    def handle(self, *args, **options):
        self.stdout.write(timezone.get_current_timezone_name())


def said():
    out = io.StringIO()
    call_command(Tell(), stdout=out)
    return out.getvalue().strip()


def test_a_command_tells_the_time_of_the_district():
    make_district()
    before = said()
    now = timezone.now()  # to the east, where this day has begun as well
    set_figures(values={"time_zone": "America/New_York"}, effective_on=timezone.localdate(now), actor=None, at=now)
    assert (before, said()) == ("America/Chicago", "America/New_York")
