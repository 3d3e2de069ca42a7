"""Wear or damage over HTTP: the evidence, the charge, the paper."""

from __future__ import annotations

from datetime import timedelta

import pypdfium2
import pytest
from django.urls import reverse

from core.models import Event
from core.photos import clean_photo
from desk.selectors.charging import charge_of, returned_loan
from inventory.services.care import keep_photo
from loans.models import LedgerEntry
from loans.selectors.ledger import owed_by
from tests.factories import NOW, make_ready_instrument
from tests.loans.makers import make_loan, make_returned_loan
from tests.pictures import jpeg
from tests.repairs.makers import make_school_bench

pytestmark = pytest.mark.django_db
DENT = ("bell_bow", "dent_small", "severe")
LACQUER = ("finish", "lacquer_wear", "light")
DENTED = "bell_bow//dent_small"


@pytest.fixture
def loan(school, director):
    instrument = make_ready_instrument(school=school, year_made=2024)
    keep_photo(instrument=instrument, photo=clean_photo(jpeg()), actor=director, at=NOW, part="bell_bow")
    loan = make_returned_loan([DENT, LACQUER], instrument=instrument, back={"mouthpiece": 0})
    keep_photo(
        instrument=instrument,
        photo=clean_photo(jpeg(color="black")),
        actor=director,
        at=NOW + timedelta(days=101),
        part="bell_bow",
    )
    return loan


@pytest.fixture
def desk(client, director):
    client.force_login(director)
    return client


def test_the_evidence_stands_side_by_side_and_wear_is_not_offered(desk, loan):
    page = desk.get(reverse("desk:evidence", args=[loan.pk])).text
    assert page.count('/small.jpg"') == 2
    assert page.count('type="checkbox"') == 1
    assert f'value="{DENTED}" checked' in " ".join(page.split())
    assert "At most" in page
    assert reverse("desk:evidence", args=[loan.pk]) in desk.get(reverse("loans:loan", args=[loan.pk])).text
    none = desk.get(reverse("desk:evidence", args=[loan.pk]), {"chosen": "1"}).text
    assert "At most" not in none


def test_what_is_chosen_is_charged_up_to_the_cap(desk, loan):
    most = charge_of(returned_loan(loan), chosen=[DENTED]).cap.amount
    address = reverse("desk:charge", args=[loan.pk])
    asked = {"chosen": "1", "for": DENTED, "price_accessory/mouthpiece": "45"}
    form = desk.get(address, asked).text
    assert f'value="{most + 45}"' in form
    refused = desk.post(address, asked | {"amount": str(most + 46)})
    assert refused.status_code == 422
    assert "At most" in refused.text
    assert not LedgerEntry.objects.exists()
    done = desk.post(address, asked | {"amount": str(most + 45)}, follow=True).text
    assert "charged" in done
    assert owed_by(loan.student) == most + 45
    assert "Charged already" in done
    assert 'type="checkbox"' not in done
    assert desk.post(address, asked | {"amount": "1"}).status_code == 422


def test_a_repair_without_a_price_is_asked_for_one(desk, loan, school):
    make_school_bench(school, profile="full", rate_amount=0)
    address, field = reverse("desk:evidence", args=[loan.pk]), f'name="price_{DENTED}"'
    page = desk.get(address).text
    assert "No price yet" in page
    assert field in page
    assert "At most" not in page
    assert reverse("desk:charge", args=[loan.pk]) not in page
    asked = {"chosen": "1", "for": DENTED, f"price_{DENTED}": "30"}
    priced = desk.get(address, asked).text
    assert "At most" in priced
    assert field in priced
    charged = desk.post(reverse("desk:charge", args=[loan.pk]), asked | {"amount": "30"}, follow=True)
    assert "$30 charged" in charged.text


@pytest.mark.parametrize(("language", "said"), [("en", "At most"), ("es", "Como máximo")])
def test_the_family_gets_it_on_paper(desk, loan, language, said):
    answer = desk.get(reverse("desk:evidence-pdf", args=[loan.pk, language]))
    assert Event.objects.get(act="exported").after["what"] == "damage paper"
    document = pypdfium2.PdfDocument(answer.content)
    text = "\n".join(page.get_textpage().get_text_range() for page in document)
    assert said in text
    assert loan.instrument.asset_number in text
    pictures = [one for page in document for one in page.get_objects() if one.type == pypdfium2.raw.FPDF_PAGEOBJ_IMAGE]
    assert len(pictures) == 2


def test_what_is_out_has_no_evidence_and_an_auditor_charges_nothing(desk, client, loan, school, auditor):
    assert desk.get(reverse("desk:evidence", args=[make_loan(school=school).pk])).status_code == 404
    client.force_login(auditor)
    page = client.get(reverse("desk:evidence", args=[loan.pk])).text
    assert "At most" in page
    assert 'type="checkbox"' not in page
