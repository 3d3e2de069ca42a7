from __future__ import annotations

import pytest
from django.core import mail
from django.utils import timezone

from core import tasks
from core.models import User


@pytest.mark.django_db
def test_one_letter_for_somebody_with_an_address_and_none_for_others(director, tech, settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    settings.DEFAULT_FROM_EMAIL = "hornbook@district.example"
    User.objects.filter(pk=director.pk).update(email="dana@district.example")
    ask = {"home": "https://horns.district.example", "at": timezone.now()}
    assert tasks.mail_link(username="director", **ask)
    assert not tasks.mail_link(username="director", **ask), "asked again at once"
    assert not tasks.mail_link(username="tech", **ask), "no address"
    assert not tasks.mail_link(username="nobody", **ask)
    (letter,) = mail.outbox
    assert "https://horns.district.example/log-in/link/" in letter.body
    assert letter.from_email == "hornbook@district.example"


def test_work_is_done_beside_the_answer(monkeypatch):
    started = []

    class Started:
        def __init__(self, *, target, name):
            self.target = target

        def start(self):
            started.append(self.target)

    done = []
    monkeypatch.setattr(tasks, "Thread", Started)
    tasks.beside(lambda: done.append("sent"))
    assert done == [], "nothing before the thread runs"
    monkeypatch.setattr(tasks.connection, "close", lambda: done.append("closed"))
    started.pop()()
    assert done == ["sent", "closed"]


def test_a_flood_of_asking_starts_few_threads_and_frees_them(monkeypatch, caplog):
    started = []

    class Started:
        def __init__(self, *, target, name):
            self.target = target

        def start(self):
            started.append(self.target)

    monkeypatch.setattr(tasks, "Thread", Started)
    monkeypatch.setattr(tasks.connection, "close", lambda: None)
    for _ in range(100):
        tasks.beside(lambda: None)
    assert len(started) == 8
    assert "too many" in caplog.text
    while started:
        started.pop()()
    tasks.beside(lambda: None)
    assert len(started) == 1
    started.pop()()
