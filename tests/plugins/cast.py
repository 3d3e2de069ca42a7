"""A fixed cast, so that permission tests read like a story."""

from __future__ import annotations

import pytest

from core.models import User
from inventory.models import Role, School
from tests.factories import make_school, make_user


@pytest.fixture
def school(db: None) -> School:
    return make_school(code="ELM", name="Elm Street Middle")


@pytest.fixture
def director(school: School) -> User:
    return make_user(Role.DIRECTOR, school=school, username="director", name="Dana Director")


@pytest.fixture
def tech(school: School) -> User:
    return make_user(Role.TECH, school=school, username="tech", name="Terry Tech")


@pytest.fixture
def auditor(school: School) -> User:
    return make_user(Role.AUDITOR, username="auditor", name="Ari Auditor")


@pytest.fixture
def administrator(school: School) -> User:
    return make_user(Role.ADMINISTRATOR, username="administrator", name="Adi Administrator")


@pytest.fixture
def stranger(db: None) -> User:
    """The director of another school."""
    return make_user(
        Role.DIRECTOR, school=make_school(code="OAK", name="Oak Hill High"), username="stranger", name="Sam Stranger"
    )


@pytest.fixture
def everybody(school: School) -> User:
    """One person with every role, so that every page opens."""
    user = make_user(Role.DIRECTOR, school=school, username="everybody", name="Every Body")
    for role in (Role.TECH, Role.AUDITOR, Role.ADMINISTRATOR):
        user.staff_roles.create(role=role)
    return user
