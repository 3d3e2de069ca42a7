import pytest
from django.urls import reverse


@pytest.mark.django_db
def test_the_demo_is_marked_on_every_page_and_a_real_one_is_not(client, director, settings):
    client.force_login(director)
    settings.DEMO = True
    assert "Demo: nothing" in client.get(reverse("desk:scan")).text
    settings.DEMO = False
    assert "Demo: nothing" not in client.get(reverse("desk:scan")).text
