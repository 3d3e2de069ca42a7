import re

import pytest
from django.urls import reverse


@pytest.mark.django_db
def test_the_demo_is_marked_on_every_page_and_a_real_one_is_not(client, director, settings):
    client.force_login(director)
    settings.DEMO = True
    assert "Demo: nothing" in client.get(reverse("desk:scan")).text
    settings.DEMO = False
    assert "Demo: nothing" not in client.get(reverse("desk:scan")).text


def seal_of(page: str) -> str:
    return re.search(r'data-seal="([0-9a-f]{64})"', page)[1]


@pytest.mark.django_db
def test_the_servers_half_of_the_key_is_one_persons_at_every_log_in(client, director, tech, settings):
    client.force_login(director)
    first = client.get(reverse("desk:scan")).text
    client.logout()
    client.force_login(director)
    again = client.get(reverse("desk:scan")).text
    assert seal_of(first) == seal_of(again)
    session = re.compile(r'data-session="(\w+)"')
    assert session.search(first)[1] != session.search(again)[1]
    assert client.session.session_key not in again
    client.logout()
    assert "data-seal" not in client.get(reverse("core:log-in")).text
    client.force_login(tech)
    assert seal_of(client.get(reverse("desk:scan")).text) != seal_of(first)
    settings.SECRET_KEY = "another secret"
    client.force_login(director)
    assert seal_of(client.get(reverse("desk:scan")).text) != seal_of(first)
