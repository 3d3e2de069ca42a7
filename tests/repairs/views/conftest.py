"""A tech who is logged in, and a job of theirs."""

from __future__ import annotations

import pytest
from django.test import Client

from core.models import User
from inventory.models import School
from repairs.models import Job
from tests.repairs.makers import make_job


@pytest.fixture
def desk(client: Client, tech: User) -> Client:
    client.force_login(tech)
    return client


@pytest.fixture
def job(school: School, tech: User, desk: Client) -> Job:
    """The tech's open job; ``client`` is logged in."""
    return make_job(school=school, actor=tech)
