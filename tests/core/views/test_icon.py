import pytest


@pytest.mark.django_db
def test_a_browser_that_asks_for_an_icon_beside_a_pdf_gets_ours(client):
    answer = client.get("/favicon.ico")
    assert answer.headers["Content-Type"] == "image/svg+xml"
    assert answer.content.lstrip().startswith(b"<svg")
