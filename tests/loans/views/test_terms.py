"""The words families sign."""

from __future__ import annotations

import pytest
from django.urls import reverse

from loans.models import AgreementTerms
from loans.rules.terms import DEFAULT_TERMS

URL = reverse("loans:terms")


@pytest.mark.parametrize("role", ["director", "administrator"])
def test_a_change_makes_a_new_version(request, client, role):
    client.force_login(request.getfixturevalue(role))
    assert DEFAULT_TERMS.split(".")[0] in client.get(URL).text
    assert client.post(URL, {"text": "Play it.", "seen": 1}).status_code == 302
    assert next((row.version, row.text) for row in AgreementTerms.objects.all()) == (2, "Play it.")


def test_two_people_change_them_and_the_second_loses_nothing(client, director):
    client.force_login(director)
    client.get(URL)
    client.post(URL, {"text": "First.", "seen": 1})
    answer = client.post(URL, {"text": "My <long> words", "seen": 1})
    assert answer.status_code == 422
    assert "Somebody else has saved version 2 meanwhile" in answer.text
    assert "My &lt;long&gt; words" in answer.text
    assert AgreementTerms.objects.first().text == "First."


@pytest.mark.parametrize("text", ["", "x" * 20_001])
def test_empty_or_endless_terms_are_asked_again(client, director, text):
    client.force_login(director)
    assert client.post(URL, {"text": text, "seen": 1}).status_code == 422
