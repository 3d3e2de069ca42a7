"""The words families sign."""

from __future__ import annotations

import pytest
from django.urls import reverse

from loans.models import AgreementTerms
from loans.selectors.agreements import default_terms

READ, CHANGE = reverse("loans:terms"), reverse("loans:change-terms")


def test_a_change_makes_a_new_version(client, administrator):
    client.force_login(administrator)
    assert default_terms().split(".")[0] in client.get(READ).text
    assert not AgreementTerms.objects.exists()
    assert client.post(CHANGE, {"text": "Play it.", "seen": 1}).status_code == 302
    assert [row.version for row in AgreementTerms.objects.all()] == [2, 1]
    assert AgreementTerms.objects.first().text == "Play it."
    assert "Version 2" in client.get(READ).text


@pytest.mark.parametrize("role", ["director", "auditor"])
def test_others_read_them_and_are_told_who_changes_them(request, client, role):
    client.force_login(request.getfixturevalue(role))
    page = client.get(READ).text
    assert "an administrator changes them" in page
    assert CHANGE not in page
    assert client.post(CHANGE, {"text": "Mine.", "seen": 1}).status_code == 403
    assert not AgreementTerms.objects.exists()


def test_two_people_change_them_and_the_second_loses_nothing(client, administrator):
    client.force_login(administrator)
    client.get(CHANGE)
    client.post(CHANGE, {"text": "First.", "seen": 1})
    answer = client.post(CHANGE, {"text": "My <long> words", "seen": 1})
    assert answer.status_code == 422
    assert "Someone else saved version 2 in the meantime" in answer.text
    assert "My &lt;long&gt; words" in answer.text
    assert AgreementTerms.objects.first().text == "First."


@pytest.mark.parametrize("text", ["", "x" * 20_001])
def test_empty_or_endless_terms_are_asked_again(client, administrator, text):
    client.force_login(administrator)
    assert client.post(CHANGE, {"text": text, "seen": 1}).status_code == 422


def test_terms_with_markup_are_read_as_text(client, administrator):
    client.force_login(administrator)
    client.post(CHANGE, {"text": "<script>x</script>\n\nSecond part.", "seen": 1})
    assert "<script>x" not in client.get(READ).text


def test_the_spanish_terms_are_changed_by_themselves(client, administrator):
    client.force_login(administrator)
    assert "Qué se presta." in client.get(READ, {"language": "es"}).text
    answer = client.post(f"{CHANGE}?language=es", {"text": "Devuélvelo.", "seen": 1}, follow=True)
    assert "Devuélvelo." in answer.text
    assert default_terms().split(".")[0] in client.get(READ).text
    assert [(row.language, row.version) for row in AgreementTerms.objects.order_by("pk")] == [("es", 1), ("es", 2)]
