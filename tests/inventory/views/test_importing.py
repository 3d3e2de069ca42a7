"""Pages of an import: status, tenancy, refusals that keep what was chosen, and how many queries they cost."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.models import ImportBatch, Instrument, Role, StaffRole
from inventory.services.importing import KEPT_FOR, choose_columns
from tests.factories import NOW, make_director, make_instrument, make_school, make_user
from tests.inventory.services.importing.makers import LIST, choices_for, make_batch, make_judged

SEND = reverse("inventory:import")
pytestmark = pytest.mark.django_db


def page_of(name: str, batch: ImportBatch, *more: str) -> str:
    return reverse(f"inventory:{name}", args=[batch.pk, *more])


def test_a_refused_file_is_told_on_the_form_in_plain_words(client, school, director):
    client.force_login(director)
    answer = client.post(SEND, {"file": SimpleUploadedFile("a.xlsx", b"%PDF-1.7 x"), "school": school.pk})
    assert answer.status_code == 422
    assert "This is a PDF, not a spreadsheet" in answer.text
    assert not ImportBatch.objects.exists()


def test_a_file_for_a_school_that_is_not_theirs_is_refused(client, director):
    client.force_login(director)
    other = make_school()
    answer = client.post(SEND, {"file": SimpleUploadedFile("a.csv", LIST), "school": other.pk})
    assert answer.status_code == 422
    assert not ImportBatch.objects.exists()


@pytest.mark.parametrize("name", ["import-batch", "import-columns"])
def test_a_list_of_another_school_is_not_there(client, school, stranger, name):
    batch = make_judged(school=school)
    client.force_login(stranger)
    assert client.get(page_of(name, batch)).status_code == 404
    assert client.get(page_of("import-problems", batch, "csv")).status_code == 404
    for act in ("import-go-on", "import-again", "import-confirm", "import-drop"):
        assert client.post(page_of(act, batch)).status_code == 404
    assert not Instrument.objects.exists()


def test_a_list_that_may_hold_rows_of_several_schools_is_shown_to_its_sender_alone(client, school, director):
    administrator = make_user(Role.ADMINISTRATOR)
    make_school()
    batch = make_judged(school=school, actor=administrator)
    client.force_login(director)
    assert client.get(page_of("import-batch", batch)).status_code == 404
    client.force_login(administrator)
    assert client.get(page_of("import-batch", batch)).status_code == 200


def test_wrong_columns_come_back_with_what_was_chosen(client, school, director):
    batch = make_batch(school=school, actor=director)
    client.force_login(director)
    answer = client.post(page_of("import-columns", batch), {"column-0": "", "column-1": "model"})
    assert answer.status_code == 422
    assert "No column says what kind of instrument" in answer.text
    assert '<option value="model" selected>' in answer.text


def test_what_was_left_unfinished_goes_on_with_one_press(client, school, director):
    batch = make_batch(school=school, actor=director)
    choose_columns(batch=batch, choices=choices_for(batch), actor=director, at=NOW)
    client.force_login(director)
    assert "0 of 3 rows" in client.get(page_of("import-batch", batch)).text
    assert "ready to register" in client.post(page_of("import-go-on", batch), follow=True).text


def test_a_conflict_is_told_above_the_rows_and_nothing_is_written(client, school, director):
    batch = make_judged(school=school, actor=director)
    make_instrument(school=school, asset_number="F-1")
    client.force_login(director)
    answer = client.post(page_of("import-confirm", batch))
    assert answer.status_code == 422
    assert "has been taken in the meantime" in answer.text
    assert Instrument.objects.count() == 1


def test_a_back_button_and_a_second_press_write_nothing_more(client, school, director):
    batch = make_judged(school=school, actor=director)
    client.force_login(director)
    assert client.post(page_of("import-confirm", batch)).status_code == 302
    again = client.post(page_of("import-confirm", batch), follow=True)
    assert "already been imported" in again.text
    assert client.get(page_of("import-columns", batch)).status_code == 404
    assert Instrument.objects.count() == 2


@pytest.mark.parametrize("state", ["", "new", "known", "problem", "nonsense"])
def test_rows_are_filtered_by_what_they_are(client, school, director, state):
    batch = make_judged(school=school, actor=director)
    client.force_login(director)
    text = client.get(page_of("import-batch", batch), {"state": state}).text
    assert ("Row 2" in text) == (state in {"", "new", "nonsense"})
    assert ("Nothing known" in text) == (state in {"", "problem", "nonsense"})


def test_what_people_wrote_never_becomes_markup(client, school, director):
    nasty = "<script>alert(1)</script>\u202e'\""
    data = f'Instrument,Make,"{nasty.replace(chr(34), chr(34) * 2)}"\nTpt,<b>x</b>,1\n'.encode()
    batch = make_batch(school=school, actor=director, data=data, name="<i>.csv")
    client.force_login(director)
    for text in (client.get(page_of("import-columns", batch)).text, client.get(SEND).text):
        assert "<script>alert" not in text
        assert "<b>x" not in text
        assert "<i>.csv" not in text


def test_the_result_costs_the_same_for_few_rows_and_for_many(client, school, director):
    client.force_login(director)
    costs = []
    for count in (2, 40):
        data = b"Instrument,Make\n" + b"Tpt,Plain %d\n" * count % tuple(range(count))
        batch = make_judged(school=school, actor=director, data=data)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            client.get(page_of("import-batch", batch))
        costs.append(len(queries))
    assert costs[0] == costs[1] <= 15


def test_a_thrown_away_list_is_gone(client, school, director):
    batch = make_judged(school=school, actor=director)
    client.force_login(director)
    assert "was discarded" in client.post(page_of("import-drop", batch), follow=True).text
    assert client.get(page_of("import-batch", batch)).status_code == 404


def test_only_who_may_everywhere_sees_a_district_commands_lists(client, school, director):
    make_school()
    batch = make_judged(school=school, actor=make_user(Role.ADMINISTRATOR))
    two = make_director(school)
    StaffRole.objects.create(user=two, role=Role.DIRECTOR, school=make_school())
    client.force_login(two)
    assert client.get(page_of("import-batch", batch)).status_code == 404


def test_rows_to_put_right_can_be_forgotten_once_the_list_is_written(client, school, director):
    batch = make_judged(school=school, actor=director)
    client.force_login(director)
    client.post(page_of("import-confirm", batch))
    assert "Delete them now" in client.get(page_of("import-batch", batch)).text
    text = client.post(page_of("import-forget", batch), follow=True).text
    assert "had a problem and was left out" in text
    assert "Delete them now" not in text
    assert client.get(page_of("import-problems", batch, "csv")).status_code == 404


def test_sending_a_list_throws_old_ones_away(client, school, director):
    old = make_judged(school=school, actor=director)
    ImportBatch.objects.update(begun_at=old.begun_at - 2 * KEPT_FOR)
    client.force_login(director)
    client.post(SEND, {"file": SimpleUploadedFile("b.csv", LIST + b"Tpt,Plain,9,\n"), "school": school.pk})
    old.refresh_from_db()
    assert old.state == ImportBatch.State.DROPPED


@pytest.mark.parametrize("form", ["pdf", "exe"])
def test_no_other_form_of_file_is_given(client, school, director, form):
    batch = make_judged(school=school, actor=director)
    client.force_login(director)
    assert client.get(page_of("import-problems", batch, form)).status_code == 404
