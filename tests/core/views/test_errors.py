import pytest
from django.test import Client
from django.urls import reverse


@pytest.mark.django_db
def test_an_address_that_does_not_exist_says_so_kindly(client, director):
    client.force_login(director)
    answer = client.get("/no/such/page/")
    assert answer.status_code == 404
    assert "Hornbook" in answer.text


@pytest.mark.django_db
def test_a_form_of_an_old_log_in_leads_back_to_its_page(director):
    client = Client(enforce_csrf_checks=True)
    client.force_login(director)
    page = reverse("loans:add-student") + "?from=list"
    answer = client.post(reverse("loans:add-student"), headers={"Referer": f"http://testserver{page}"})
    assert answer.status_code == 403
    assert f'href="{page}"' in answer.text
