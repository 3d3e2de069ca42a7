from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.urls import reverse

from core.views.entering import CONFIRMED, CONFIRMED_FOR_S, ask_again, is_confirmed
from tests.factories import PASSWORD

ROOT = Path(__file__).resolve().parents[3]


@pytest.mark.django_db
def test_a_log_in_counts_as_asked_a_moment_ago(client, director, rf):
    client.post(reverse("core:log-in"), {"username": "director", "password": PASSWORD})
    request = rf.get("/")
    request.session = client.session
    assert is_confirmed(request)
    request.session[CONFIRMED] -= CONFIRMED_FOR_S
    assert not is_confirmed(request)
    request.session[CONFIRMED] += 10 * CONFIRMED_FOR_S
    assert not is_confirmed(request), "of a clock that was set back"


@pytest.mark.django_db
def test_a_session_that_nobody_typed_a_password_for_is_not_confirmed(client, director, rf):
    client.force_login(director)
    request = rf.get("/")
    request.session = client.session
    assert not is_confirmed(request)


def test_being_asked_again_leads_on_afterwards():
    assert ask_again("/me/codes/").headers["Location"] == "/me/confirm/?next=%2Fme%2Fcodes%2F"


def test_whatever_looks_at_a_password_or_a_code_counts_the_try():
    looks = re.compile(r"\b(check_password|authenticate|choose_password|use_code|passkey_answering)\b")
    found = {}
    for path in [*ROOT.glob("*/views/**/*.py"), *ROOT.glob("*/forms.py"), *ROOT.glob("*/forms/*.py")]:
        text = path.read_text("utf-8")
        if looks.search(re.sub(r"^(from|import) .*$", "", text, flags=re.MULTILINE)):
            found[path.relative_to(ROOT).as_posix()] = bool(re.search(r"\b(take_try|counted)\(", text))
    assert {"core/views/own.py", "core/views/second_step.py"} <= found.keys()
    del found["desk/views/api.py"]  # a token of 256 random bits, which nobody guesses
    assert [path for path, is_counted in found.items() if not is_counted] == [], (
        "take_try first (core/services/tries.py)"
    )
