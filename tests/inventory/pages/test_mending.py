"""The questions of a list and its problem rows, as the page shows them."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from inventory.models import ImportRow, Instrument, ListRemark
from inventory.services.importing import judge_more
from tests.factories import NOW, TODAY, make_inspection, make_instrument
from tests.inventory.services.importing.makers import make_judged
from tests.inventory.services.importing.test_answering import LIST

pytestmark = pytest.mark.django_db


def page_of(batch, name="import-batch") -> str:
    return reverse(f"inventory:{name}", args=[batch.pk])


def test_problems_come_first_and_each_word_and_column_is_asked_once(client, school, director):
    batch = make_judged(school=school, data=b"Instrument,Serial\nFlute,9\nSax,1\nSax,2\nTotal,2\n", actor=director)
    client.force_login(director)
    answer = client.get(page_of(batch))
    assert [line["row"].number for line in answer.context["lines"]] == [3, 4, 2, 5]
    assert list(answer.context["asks"].fields) == ["kind-sax"]
    assert answer.context["asks"].fields["kind-sax"].choices[1] == ("sax_alto", "Alto saxophone")
    client.post(page_of(batch, "import-answer"), {"kind-sax": "sax_tenor"})
    judge_more(batch=batch, today=TODAY)
    assert ImportRow.objects.get(batch=batch, number=3).values["kind"] == "sax_tenor"
    assert client.get(page_of(batch)).context["asks"] is None


def test_a_row_is_put_right_on_the_page_and_only_what_changed_is_taken(client, school, director):
    batch = make_judged(school=school, data=LIST, actor=director)
    client.force_login(director)
    (line,) = [line for line in client.get(page_of(batch)).context["lines"] if line["row"].number == 4]
    kind = line["mend"]["blamed"][0]
    assert (kind["name"], kind["nearest"][0]) == ("cell-4-0", "Trumpet")
    fields = {one["name"]: one["text"] for one in (*line["mend"]["blamed"], *line["mend"]["rest"])}
    typed = fields | {"cell-4-0": "Trumpet", "cell-5-0": "not a row with a problem", "cell-x": "?"}
    client.post(page_of(batch, "import-mend"), typed)
    batch.refresh_from_db()
    assert batch.answers["rows"] == {"4": {"0": "Trumpet"}}
    assert "No cell was changed" in client.post(page_of(batch, "import-mend"), {}, follow=True).text


def test_a_remark_of_the_list_is_shown_until_somebody_has_inspected_it(client, school, director):
    instrument = make_instrument(school=school)
    ListRemark.objects.create(instrument=instrument, said_at=NOW, text="2nd valve sticks")
    pages = (
        reverse("desk:instrument", args=[instrument.asset_number]),
        f"{reverse('inventory:inspect', args=[instrument.asset_number])}?purpose=intake",
    )
    client.force_login(director)
    for page in pages:
        assert "2nd valve sticks" in client.get(page).text
        assert "1 remark from the list" in client.get(page).text
    assert Instrument.objects.get().readiness_reasons == instrument.readiness_reasons  # it judges nothing by itself
    make_inspection(instrument=instrument, at=NOW + timedelta(days=1))
    assert "2nd valve sticks" not in client.get(pages[0]).text


def test_a_settled_order_is_said_with_the_row_that_shows_it(client, school, director):
    data = b"Instrument,Bought on\nFlute,1/2/2019\nFlute,15/2/2019\n"
    batch = make_judged(school=school, data=data, actor=director)
    client.force_login(director)
    text = client.get(page_of(batch)).text
    assert "Read as day, month, year." in text
    assert "Row 3 shows it: 15/2/2019" in text
