import io

import openpyxl
import pytest
from django.core.exceptions import ImproperlyConfigured
from django.urls import reverse

from core.views import StaffView, page_above, sheet_response
from tests.factories import PASSWORD, make_instrument

LOG_IN = "/log-in/"


def test_a_staff_page_without_a_permission_cannot_be_defined():
    with pytest.raises(ImproperlyConfigured):

        class Forgotten(StaffView):
            pass


def test_nor_can_a_page_made_of_a_base_that_names_none():
    class Base(StaffView, is_base=True):
        pass

    class Named(Base):
        permission_required = "inventory.view_instrument"

    with pytest.raises(ImproperlyConfigured, match="Forgotten"):

        class Forgotten(Base):
            pass


@pytest.mark.parametrize(
    ("act", "page"),
    [
        ("/bench/7/do/", "/bench/7/"),
        ("/instruments/CF-0001/tags/new/", "/instruments/CF-0001/tags/"),
        ("/instruments/walk/5/finding/take-back/", "/instruments/walk/5/"),
        ("/log-out/", ""),
    ],
)
def test_above_the_address_of_an_act_lies_its_page(act, page):
    assert page_above(act) == page


@pytest.mark.django_db
def test_who_logs_in_anew_in_the_middle_of_an_act_comes_to_its_page(client, tech):
    sent = client.post("/bench/7/do/", {"outcome": "freed"})
    log_in = sent.headers["Location"]
    assert client.post(log_in, {"username": "tech", "password": PASSWORD}).headers["Location"] == "/bench/7/do/"
    led = client.get("/bench/7/do/")
    assert led.headers["Location"] == "/bench/7/"
    assert "Your session had ended" in client.get(reverse("desk:today")).text


@pytest.mark.django_db
def test_pages_carry_a_strict_content_policy(client, director):
    client.force_login(director)
    policy = client.get(reverse("desk:today")).headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    where_labels_are_read = client.get(reverse("desk:scan")).headers["Content-Security-Policy"]
    assert where_labels_are_read.replace(" 'wasm-unsafe-eval'", "").count("unsafe") == 0


@pytest.mark.django_db
def test_a_form_page_shows_saves_and_keeps_what_is_refused(client, tech, school):
    """One page in use stands for all that are made of FormView."""
    instrument = make_instrument(school=school)
    address = reverse("inventory:whereabouts", args=[instrument.asset_number])
    client.force_login(tech)
    assert client.get(address).status_code == 200
    assert client.post(address, {"to": "the moon"}).status_code == 422
    answer = client.post(address, {"to": "not_found"}, follow=True)
    assert answer.redirect_chain == [(reverse("desk:instrument", args=[instrument.asset_number]), 302)]
    assert "Recorded as not found." in answer.text
    refused = client.post(address, {"to": "not_found"})
    assert refused.status_code == 422
    assert refused.context["form"].non_field_errors()


@pytest.mark.parametrize("most", [2**22, 10], ids=["in memory", "in a file"])
def test_a_table_is_a_download_of_either_kind(most, monkeypatch):
    monkeypatch.setattr("core.views.base.IN_MEMORY", most)
    table = {"title": "Horns", "header": ("Number", "Cost"), "rows": [("TR-1", 3)]}
    text = sheet_response(name="horns.csv", **table)
    book = sheet_response(name="horns.xlsx", **table)
    assert b"".join(text.streaming_content).decode("utf-8-sig").splitlines() == ["Number,Cost", "TR-1,3"]
    (sheet,) = openpyxl.load_workbook(io.BytesIO(b"".join(book.streaming_content))).worksheets
    assert [tuple(row) for row in sheet.iter_rows(values_only=True)] == [("Number", "Cost"), ("TR-1", 3)]
    for answer, name in ((text, "horns.csv"), (book, "horns.xlsx")):
        assert answer.headers["Content-Disposition"] == f'attachment; filename="{name}"'
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
    book.file_to_stream.close()
