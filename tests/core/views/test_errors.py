import pytest


@pytest.mark.django_db
def test_an_address_that_does_not_exist_says_so_kindly(client, director):
    client.force_login(director)
    answer = client.get("/no/such/page/")
    assert answer.status_code == 404
    assert "Hornbook" in answer.text
