"""A sample from its plan to its working paper, as an auditor goes through it."""

from __future__ import annotations

import csv
import hashlib
import io
from decimal import Decimal

import pypdfium2
import pytest
from django.urls import reverse
from openpyxl import load_workbook

from core.models import Event
from inventory.models import Role, Sample, SampleItem, Tag
from tests.desk.forms.test_samples import SENT
from tests.factories import make_instrument, make_school, make_user
from tests.inventory.sample_makers import SEED, examine_all, make_sample

pytestmark = [pytest.mark.django_db, pytest.mark.page]
NEW = reverse("desk:new-sample")
PLAN = SENT | {"confidence": "90", "tolerable": "40", "seed": SEED}


def address(name: str, sample: Sample, *args: object) -> str:
    return reverse(f"desk:{name}", args=[sample.pk, *args])


def paper_text(response) -> str:
    return "\n".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(response.content))


def test_the_plan_says_the_size_first_and_draws_when_told(client, auditor, school):
    for _number in range(8):
        make_instrument(school=school)
    client.force_login(auditor)
    assert client.get(NEW).status_code == 200
    page = client.get(NEW, PLAN | {"strata": "school"}).text
    # 0.6^5 = 0.078 <= 0.1 < 0.6^4, and the whole district is one school
    assert "Examine 5 instruments of 8." in page
    assert not Sample.objects.exists()
    answer = client.post(NEW, PLAN)
    sample = Sample.objects.get()
    assert (answer.url, sample.seed, sample.size, sample.school) == (address("sample", sample), SEED, 3, None)
    assert SEED in client.get(answer.url).text


def test_without_a_seed_one_is_drawn(client, auditor, school):
    make_instrument(school=school)
    client.force_login(auditor)
    for _number in range(2):
        client.post(NEW, PLAN | {"seed": "", "tolerable": "50", "school": "ELM"})
    seeds = set(Sample.objects.values_list("seed", flat=True))
    assert len(seeds) == 2
    assert {len(seed) for seed in seeds} == {16}


def test_what_cannot_be_drawn_is_said_and_keeps_what_was_typed(client, auditor, school):
    client.force_login(auditor)
    answer = client.post(NEW, PLAN)
    assert answer.status_code == 422
    assert "There are no instruments to draw from." in answer.text
    assert client.get(NEW, PLAN | {"expected": "60"}).status_code == 422


def test_scanning_leads_to_the_item_and_what_is_there_is_recorded(client, auditor, school):
    sample = make_sample(school=school, actor=auditor)
    item = sample.items.first()
    client.force_login(auditor)
    home = address("sample", sample)
    tag = Tag.objects.live().get(instrument=item.instrument)
    for typed in (tag.address(home="http://testserver"), item.number):
        assert client.get(home, {"text": typed}).url == address("sample-item", sample, item.place)
    stranger = make_instrument(school=make_school())
    assert f"{stranger.asset_number} is not in this sample" in client.get(home, {"text": stranger.asset_number}).text
    assert "No instrument has" in client.get(home, {"text": "ZZ-999999"}).text

    here = address("sample-item", sample, item.place)
    page = client.get(here).text
    assert "Elm Street Middle" in page
    assert "It is where the register says" in page
    refused = client.post(here, {"result": "deviates", "note": ""})
    assert (refused.status_code, "Say what is not as recorded" in refused.text) == (422, True)
    assert client.post(here, {"result": "deviates", "note": "In <b>room 3</b>"}).url == home
    page = client.get(home).text
    assert "In &lt;b&gt;room 3&lt;/b&gt;" in page
    assert "1 deviation so far" in page


def test_a_finished_sample_says_what_it_says_and_stays_as_it_is(client, auditor, school):
    sample = make_sample(school=school, actor=auditor)
    client.force_login(auditor)
    client.post(address("close-sample", sample))
    assert "3 instruments are still to be examined" in client.get(address("sample", sample)).text
    examine_all(sample)
    client.post(address("close-sample", sample))
    page = client.get(address("sample", sample)).text
    # of 8, none of 3 deviating: D = 3: C(5,3)/C(8,3) = 10/56 > 0.1; D = 4: 4/56. The limit is 3 of 8, 37.5 %.
    assert "no more than 37.5% of the records are wrong" in page
    assert client.post(address("sample-item", sample, 1), {"result": "not_found"}).status_code == 422
    assert not SampleItem.objects.filter(result="not_found").exists()


def test_one_may_be_stopped(client, auditor, school):
    sample = make_sample(school=school, actor=auditor)
    client.force_login(auditor)
    client.post(address("close-sample", sample), {"because": "time"})
    assert "Stopped: there was no time to finish it" in client.get(reverse("desk:samples")).text


def test_the_working_paper_has_what_it_takes_to_do_it_again(client, auditor, school):
    make_instrument(school=school, replacement_amount=Decimal(100))
    sample = make_sample(school=school, actor=auditor, count=7, strata="value", cuts=(Decimal(600),))
    examine_all(sample, result="deviates", note="Another serial")
    client.force_login(auditor)
    paper = client.get(address("sample-paper", sample))
    words = " ".join(paper_text(paper).split())
    numbers = list(sample.items.values_list("number", flat=True))
    wanted = (SEED, sample.frame_sha256[:20], "under $600", "The records do not pass", "the same instruments came out")
    for said in (*wanted, "Another serial", *numbers):
        assert said in words.replace("\ufffe", ""), said
    frame = client.get(address("sample-frame", sample))
    assert hashlib.sha256(frame.content).hexdigest() == sample.frame_sha256
    sheet = client.get(address("sample-export", sample, "csv"))
    rows = list(csv.DictReader(io.StringIO(b"".join(sheet.streaming_content).decode("utf-8-sig"))))
    assert [row["Asset number"] for row in rows] == numbers
    assert {row["Result"] for row in rows} == {"Deviation"}
    book = b"".join(client.get(address("sample-export", sample, "xlsx")).streaming_content)
    assert load_workbook(io.BytesIO(book)).active["C2"].value == numbers[0]
    assert client.get(address("sample-export", sample, "pdf")).content.startswith(b"%PDF")
    assert client.get(address("sample-export", sample, "txt")).status_code == 404
    assert [one.after["rows"] for one in Event.objects.filter(act="exported").order_by("number")][:2] == [5, 8]


def test_the_paper_says_so_when_frame_and_selection_differ(client, auditor, school):
    sample = make_sample(school=school, actor=auditor)
    Sample.objects.filter(pk=sample.pk).update(frame=f"{sample.frame}all\tX-1\n")
    client.force_login(auditor)
    assert "differs from what was recorded" in paper_text(client.get(address("sample-paper", sample)))


def test_a_sample_of_the_district_is_not_for_an_auditor_of_one_school(client, auditor, school):
    sample = make_sample(school=school, actor=auditor)
    Sample.objects.filter(pk=sample.pk).update(school=None)
    client.force_login(make_user(Role.AUDITOR, school=school))
    assert client.get(address("sample", sample)).status_code == 404
    assert "Sample" not in client.get(reverse("desk:samples")).text.split("<main")[1].split("No samples yet")[1]
    client.force_login(auditor)
    assert client.get(address("sample", sample)).status_code == 200


def test_an_administrator_looks_and_does_not_touch(client, administrator, school):
    sample = make_sample(school=school)
    client.force_login(administrator)
    page = client.get(address("sample", sample)).text
    assert address("sample-item", sample, 1) not in page
    assert address("close-sample", sample) not in page
    assert client.get(address("sample-item", sample, 1)).status_code == 403
