from datetime import timedelta

import pytest
from django.apps import apps
from django.contrib.sessions.backends.db import SessionStore
from django.contrib.sessions.models import Session
from django.db import models

from core.caps import KNOWN, STRANGE
from core.forgetting import (
    COUNTED,
    EXPIRING,
    SEARCHES,
    SEARCHES_KEPT_FOR,
    TRIES_KEPT_FOR,
    forget_searches,
    forget_tries,
)
from core.models import LogInTry, OneTimeLink
from tests.factories import NOW, make_user

pytestmark = pytest.mark.django_db


def test_old_tries_go_and_recent_ones_stay():
    assert max(cap.within for cap in (*KNOWN, *STRANGE)) < TRIES_KEPT_FOR, "what is still counted stays"
    for number, age in enumerate((TRIES_KEPT_FOR + timedelta(minutes=1), TRIES_KEPT_FOR - timedelta(minutes=1))):
        LogInTry.objects.create(name=f"n{number}", at=NOW - age)
    assert forget_tries(at=NOW) == 1
    assert LogInTry.objects.get().name == "n1"


def test_links_that_nobody_used_in_time_go():
    user = make_user()
    for number in (1, -1):
        OneTimeLink.objects.create(
            user=user, token_hash=str(number), made_at=NOW, expires_at=NOW + timedelta(minutes=number)
        )
    assert forget_tries(at=NOW) == 1
    assert OneTimeLink.objects.get().token_hash == "1"


def held_by(key: str) -> dict:
    return Session.objects.get(pk=key).get_decoded()


def test_words_searched_for_go_from_every_session_after_half_an_hour_and_the_rest_stays():
    typed, late = int(NOW.timestamp()), NOW + SEARCHES_KEPT_FOR + timedelta(seconds=1)
    made = []
    for searches in (
        {"a": ["rosa", typed], "b": ["ada", typed + 600]},
        {"c": ["rosa", typed]},
        {"d": "as of old"},
        None,
    ):
        session = SessionStore()
        session["who"] = "kept"
        if searches is not None:
            session[SEARCHES] = searches
        session.create()
        made.append(session.session_key)
    assert forget_searches(at=NOW + timedelta(minutes=29)) == 1  # what an older version kept has no time
    assert forget_searches(at=late) == 2
    assert [held_by(key).get(SEARCHES) for key in made] == [{"b": ["ada", typed + 600]}, {}, {}, None]
    assert {held_by(key)["who"] for key in made} == {"kept"}
    assert forget_searches(at=late) == 0
    assert forget_searches(at=NOW - timedelta(days=1)) == 1, "the clock was set back"


def test_a_session_that_changes_meanwhile_is_left_for_the_next_time(monkeypatch):
    session = SessionStore()
    session[SEARCHES] = {"a": ["rosa", int(NOW.timestamp())]}
    session.create()
    read = Session.get_decoded

    def and_changes(row):
        Session.objects.filter(pk=row.pk).update(session_data=Session.objects.encode({"new": 1}))
        return read(row)

    monkeypatch.setattr(Session, "get_decoded", and_changes)
    assert forget_searches(at=NOW + timedelta(hours=1)) == 0
    monkeypatch.undo()
    assert held_by(session.session_key) == {"new": 1}


def test_every_model_that_keeps_from_where_somebody_came_is_named():
    kept = {
        model._meta.label
        for model in apps.get_models()
        for column in model._meta.get_fields()
        if isinstance(column, models.GenericIPAddressField) or column.name in {"ip_address", "network", "user_agent"}
    }
    assert kept == {"core.LogInTry"}
    assert kept <= COUNTED.keys() | EXPIRING.keys()
