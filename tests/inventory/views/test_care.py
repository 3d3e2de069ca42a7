from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from core.models import Event
from core.photos import clean_photo
from inventory.models import Instrument, Photo, ProblemReport
from inventory.rules.facts import Owed
from inventory.services.care import keep_photo, report_problem, require_hygiene
from tests.factories import NOW, make_instrument, make_ready_instrument, make_school
from tests.pictures import jpeg

ALCOHOL = {"product": "alcohol", "wet_minutes": "1"}


@pytest.fixture
def instrument(school):
    return make_ready_instrument(school=school)


@pytest.fixture(autouse=True)
def logged_in(client, director):
    client.force_login(director)


def page_of(name: str, instrument: Instrument) -> str:
    return reverse(f"inventory:{name}", args=[instrument.asset_number])


def fresh(instrument: Instrument) -> Instrument:
    return Instrument.objects.get(pk=instrument.pk)


def test_cleaning_is_noted_only_when_everything_is_checked_off(client, school, director):
    sax = make_ready_instrument(school=school, kind_code="sax_alto")
    require_hygiene(instrument=sax, actor=director, at=NOW)
    every = [code for code, _ in sax.kind.between_players()]
    refused = client.post(page_of("hygiene", sax), {"done": every[:-1]} | ALCOHOL)
    assert refused.status_code == 422
    assert "until everything is checked off" in refused.text
    assert fresh(sax).is_hygiene_due is True
    assert client.post(page_of("hygiene", sax), {"done": every} | ALCOHOL).status_code == 302
    assert fresh(sax).is_hygiene_due is False


def test_a_cleaning_posted_twice_is_recorded_once_and_another_again(client, instrument):
    every = [code for code, _ in instrument.kind.between_players()] or ["all"]
    first, second = (
        client.get(page_of("hygiene", instrument)).text.split('name="nonce" value="')[1].split('"')[0] for _ in "12"
    )
    for nonce in (first, first, second):
        assert client.post(page_of("hygiene", instrument), {"done": every, "nonce": nonce} | ALCOHOL).status_code == 302
    assert Event.objects.filter(act="cleaned").count() == 2


def test_an_unknown_history_is_said_and_its_full_cleaning_is_noted_with_the_hygiene(client, school):
    gift = make_ready_instrument(school=school, acquired_by="gift")
    assert "Nobody knows who played it before" in client.get(page_of("hygiene", gift)).text
    every = [code for code, _ in gift.kind.between_players()]
    client.post(page_of("hygiene", gift), {"done": every} | ALCOHOL)
    assert fresh(gift).owed == {Owed.FULL}
    client.post(page_of("hygiene", gift), {"done": every, "is_full": "on"} | ALCOHOL)
    assert fresh(gift).owed == frozenset()


# Contact times as published: a school district's procedure for plastic, the CDC's sheet of May 2020, a county's of March 2020.
@pytest.mark.parametrize(
    ("product", "minutes", "is_kept"),
    [("alcohol", 0, False), ("alcohol", 1, True), ("bleach", 0, False), ("peroxide", 9, False), ("peroxide", 10, True),
     ("soap", 0, True), ("other", 0, True), ("spit", 5, False), ("", 5, False)],
)  # fmt: skip
def test_a_cleaning_keeps_its_product_and_its_minutes_and_refuses_too_few(client, school, product, minutes, is_kept):
    gift = make_ready_instrument(school=school, acquired_by="transfer")
    every = [code for code, _ in gift.kind.between_players()]
    client.post(page_of("hygiene", gift), {"done": every, "product": product, "wet_minutes": str(minutes)})
    assert fresh(gift).is_hygiene_due is not is_kept
    kept = [
        (event.after["product"], event.after.get("wet_minutes", 0)) for event in Event.objects.filter(act="cleaned")
    ]
    assert kept == ([(product, minutes)] if is_kept else [])


def test_nothing_is_due_says_so(client, instrument):
    assert "Nothing is due" in client.get(page_of("hygiene", instrument)).text


def test_accessories_are_counted_one_by_one_or_all_at_once(client, instrument):
    client.post(page_of("accessories", instrument), {"count-case": "0"})
    assert instrument.accessories.get(code="case").present == 0
    assert fresh(instrument).readiness == "stays_in"
    client.post(page_of("accessories", instrument), {"all": "1"})
    assert not any(row.is_short for row in instrument.accessories.all())
    assert fresh(instrument).readiness == "may_go_out"


def test_a_count_that_is_no_number_is_refused_and_stays_typed(client, instrument):
    answer = client.post(page_of("accessories", instrument), {"count-case": "-3"})
    assert answer.status_code == 422
    assert 'value="-3"' in answer.text
    assert instrument.accessories.get(code="case").present is None


def test_it_is_noted_as_not_found_and_found_again(client, instrument):
    client.post(page_of("whereabouts", instrument), {"to": "not_found"})
    assert fresh(instrument).whereabouts == "not_found"
    stale = client.post(page_of("whereabouts", instrument), {"to": "not_found"})
    assert stale.status_code == 422
    assert "Somebody else changed it first" in stale.text
    client.post(page_of("whereabouts", instrument), {"to": "in_store"})
    assert fresh(instrument).whereabouts == "in_store"


def test_nobody_moves_it_to_a_student_by_this_page(client, instrument):
    assert client.post(page_of("whereabouts", instrument), {"to": "with_student"}).status_code == 422
    assert fresh(instrument).whereabouts == "in_store"


def test_reports_are_answered_with_a_word(client, instrument):
    report = report_problem(instrument=instrument, text="Sticks <b>often</b>", at=NOW)
    page = client.get(reverse("inventory:reports")).text
    assert "Sticks &lt;b&gt;often&lt;/b&gt;" in page
    answer = reverse("inventory:answer-report", args=[report.pk])
    assert client.post(answer, {"answer": " "}).status_code == 422
    client.post(answer, {"answer": "Oiled the valve."})
    assert ProblemReport.objects.get().answer == "Oiled the valve."
    assert "Nothing is waiting" in client.get(reverse("inventory:reports")).text
    assert "Oiled the valve." in client.get(reverse("inventory:reports") + "?answered=1").text
    assert "Already answered" in client.get(answer).text


def test_reports_of_other_schools_are_not_shown(client):
    report_problem(instrument=make_ready_instrument(school=make_school()), text="Theirs", at=NOW)
    assert "Theirs" not in client.get(reverse("inventory:reports")).text


def test_the_list_costs_the_same_for_one_report_and_for_twenty(client, school, django_assert_max_num_queries):
    for number in range(20):
        report_problem(instrument=make_ready_instrument(school=school), text=f"Trouble {number}", at=NOW)
    with django_assert_max_num_queries(12):
        page = client.get(reverse("inventory:reports")).text
    assert "Trouble 19" in page


@pytest.fixture
def photo(school, tech):
    return keep_photo(instrument=make_instrument(school=school), photo=clean_photo(jpeg()), actor=tech, at=NOW)


@pytest.mark.parametrize("size", ["full", "small"])
def test_a_picture_is_shown_to_who_may_see_its_instrument(client, auditor, photo, size):
    client.force_login(auditor)
    answer = client.get(reverse("inventory:photo", args=[photo.pk, size]))
    assert answer.headers["Content-Type"] == "image/jpeg"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert "public" not in answer.headers["Cache-Control"]
    assert answer.content.startswith(b"\xff\xd8\xff")


def test_another_school_finds_no_picture(client, stranger, photo):
    client.force_login(stranger)
    assert client.get(reverse("inventory:photo", args=[photo.pk, "full"])).status_code == 404


def test_other_sizes_and_lost_files_are_not_found(client, tech, photo):
    client.force_login(tech)
    assert client.get(f"/instruments/photos/{photo.pk}/huge.jpg").status_code == 404
    photo.image.storage.delete(photo.image.name)
    assert client.get(reverse("inventory:photo", args=[photo.pk, "full"])).status_code == 404


def test_a_photo_is_added_and_what_is_none_is_refused(client, tech, school):
    client.force_login(tech)
    address = reverse("inventory:photos", args=[make_instrument(school=school).asset_number])
    good = {"photo": SimpleUploadedFile("x.jpg", jpeg(color="teal")), "caption": "Serial <number>"}
    assert client.post(address, good).status_code == 302
    assert "Serial &lt;number&gt;" in client.get(address).text
    for content in (b"%PDF-1.4 %%EOF", b"", b"plain words"):
        assert client.post(address, {"photo": SimpleUploadedFile("x.jpg", content)}).status_code == 422
    assert Photo.objects.count() == 1


def test_a_cleaning_that_nobody_owes_is_kept_with_its_product(client, tech, school):
    """A violin goes into no mouth; what its chin rest was wiped with is worth knowing all the same."""
    client.force_login(tech)
    violin = make_ready_instrument(school=school, kind_code="violin")
    assert page_of("hygiene", violin) in client.get(reverse("desk:instrument", args=[violin.asset_number])).text
    every = [code for code, _ in client.get(page_of("hygiene", violin)).context["form"].to_do]
    sent = {"done": every, "product": "soap", "wet_minutes": "0"}
    assert client.post(page_of("hygiene", violin), sent).status_code == 302
    cleaned = Event.objects.get(act="cleaned", thread=violin.thread)
    assert (cleaned.after["product"], cleaned.actor) == ("soap", tech)


def test_a_report_is_confirmed_on_the_list_and_then_answered(client, director, school):
    instrument = make_ready_instrument(school=school)
    report = report_problem(instrument=instrument, text="A key hangs.", at=NOW)
    client.force_login(director)
    listed, confirm = reverse("inventory:reports"), reverse("inventory:confirm-report", args=[report.pk])
    assert confirm in client.get(listed).text
    said = client.post(confirm, follow=True).text
    assert f"{instrument.asset_number} stays in until the report is answered." in said
    assert confirm not in said
    assert f"Confirmed by {director}" in said
    client.post(reverse("inventory:answer-report", args=[report.pk]), {"answer": "Tightened."})
    assert "already been answered" in client.post(confirm, follow=True).text
