"""Where a shared instrument shows, and to whom with names."""

from __future__ import annotations

import pytest
from django.urls import reverse

from loans.models import Student
from tests.loans.makers import make_seat, make_shared_use


@pytest.mark.django_db
def test_it_is_shared_and_shown_with_the_instrument_and_the_class(client, director, school, tech):
    client.force_login(director)
    use = make_shared_use(school=school)
    other = make_seat(place=use.period, kind_code="tuba")
    Student.objects.filter(pk=other.student_id).update(sort_name="<b>Reed</b>, Ana")
    address = reverse("loans:sharing", args=[use.instrument.asset_number])
    page = reverse("desk:instrument", args=[use.instrument.asset_number])
    assert "&lt;b&gt;Reed" in client.get(address).text
    answer = client.post(address, {f"period-{use.period_id}": other.pk}, follow=True)
    assert answer.redirect_chain[-1][0] == page
    assert ("&lt;b&gt;Reed" in answer.text, address in answer.text) == (True, True)
    assert f"shares {use.instrument.asset_number}" in client.get(reverse("loans:period", args=[use.period_id])).text
    lend = reverse("desk:lend-this", args=[use.instrument.asset_number])
    assert lend not in answer.text, "no way to lend it from its page"
    assert ("Stays in the room" in answer.text, "holding it back" in answer.text) == (True, False)
    assert "end its sharing first" in client.get(lend).text
    station = reverse("desk:hand-out-to", args=[other.student_id])
    assert "end its sharing first" in client.get(station, {"instrument": use.instrument.asset_number}).text
    assert use.instrument not in client.get(reverse("desk:lend")).context["ready"]
    assert client.post(address, {f"period-{use.period_id}": "0"}).status_code == 422
    client.force_login(tech)
    shown = client.get(page).text
    assert ("Shared in class" in shown, "Reed" in shown) == (True, False)
