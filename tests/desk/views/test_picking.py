"""One act for all that is checked in a list. Common practice, no source."""

from __future__ import annotations

import re
from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone
from zeal import zeal_ignore

from inventory.models import Instrument
from inventory.services.registering import note_lock
from loans.models import SigningLink
from loans.services import return_loan
from repairs.models import CareDone, Job
from tests.factories import make_bench, make_instrument, make_ready_instrument, make_room
from tests.loans.makers import all_back, make_loan

pytestmark = [pytest.mark.django_db, pytest.mark.page]


def posted(client, name, rows, **data):
    with zeal_ignore():  # each row is an act of its own, under a lock of its own
        return client.post(reverse(name), {"row": [one.pk for one in rows], "nonce": str(uuid4())} | data, follow=True)


def test_the_page_names_how_many_and_what_and_leads_back_to_the_list_as_it_was(client, director, school):
    horns = [make_instrument(school=school) for _ in range(2)]
    client.force_login(director)
    asked = "&".join(f"number={one.asset_number}" for one in horns)
    referer = f"http://testserver{reverse('inventory:list')}?kind=trumpet"
    page = client.get(f"{reverse('desk:picked-clean')}?{asked}", headers={"referer": referer}).text
    assert "Mark 2 instruments clean" in page
    assert all(one.asset_number in page for one in horns)
    assert f'{reverse("inventory:list")}?kind=trumpet"' in page


def test_what_is_refused_is_named_the_rest_is_done_and_a_second_post_does_nothing_twice(client, director, school):
    horn, lent = make_ready_instrument(school=school), make_loan(school=school).instrument
    client.force_login(director)
    data = {"bench": make_bench(school=school).code, "nonce": str(uuid4())}
    for _ in range(2):
        page = posted(client, "desk:picked-bench", [horn, lent], **data).text
        assert "1 instrument is on the bench:" in page
        assert "1 was left as it is." in page
        assert f"<li>{lent.asset_number}: " in page
    job = Job.objects.get()
    assert job.instrument == horn
    assert reverse("repairs:job", args=[job.pk]) in page
    again = posted(client, "desk:picked-bench", [horn, lent], bench=data["bench"])
    assert again.status_code == 422  # another form: nothing is left to be done
    assert f"{horn.asset_number} already has an open job." in again.text


def test_rooms_are_of_the_schools_chosen_and_nothing_of_another_school_moves(client, director, school):
    horn, theirs = make_instrument(school=school), make_instrument()
    room, elsewhere = make_room(school=school, name="Annex"), make_room()
    client.force_login(director)
    assert posted(client, "desk:picked-move", [horn], room=elsewhere.pk).status_code == 422
    page = posted(client, "desk:picked-move", [horn, theirs], room=room.pk, place="Shelf 2").text
    assert "1 instrument: now in Annex." in page
    assert "1 is no longer at your schools." in page
    horn.refresh_from_db()
    assert (horn.room, horn.place) == (room, "Shelf 2")
    assert Instrument.objects.get(pk=theirs.pk).room is None
    assert (
        "None of the selected rows can be changed this way."
        in posted(client, "desk:picked-move", [theirs], room=room.pk).text
    )


def test_a_move_leaves_places_alone_unless_told_and_says_first_which_locks_are_left_behind(client, director, school):
    room, annex = make_room(school=school), make_room(school=school, name="Annex")
    here, there, bare = (
        make_instrument(school=school, room=one, place=place)
        for one, place in ((room, "Shelf 1"), (annex, "Shelf 2"), (room, "Shelf 3"))
    )
    for one in (here, there):
        note_lock(instrument=one, combination="31-07-22", actor=director, at=timezone.now())
    client.force_login(director)
    asked = {"number": [one.asset_number for one in (here, there, bare)]}
    assert "2 lock combinations will be removed." in client.get(reverse("desk:picked-move"), asked).text
    asked = {"number": [bare.asset_number]}
    assert "will be removed" not in client.get(reverse("desk:picked-move"), asked).text
    page = posted(client, "desk:picked-move", [here, there, bare], room=annex.pk).text
    assert "3 instruments: now in Annex." in page
    rows = Instrument.objects.order_by("pk").select_related("lock")
    assert [(one.room, one.place) for one in rows] == [(annex, "Shelf 1"), (annex, "Shelf 2"), (annex, "Shelf 3")]
    assert [rows[at].lock.combination for at in (0, 1)] == ["", "31-07-22"]  # that one was there already
    posted(client, "desk:picked-move", [there], room=annex.pk, clear_place="on")
    there.refresh_from_db()
    assert (there.room, there.place) == (annex, "")


def test_many_are_recorded_as_clean_at_once(client, director, school):
    horns = [make_instrument(school=school) for _ in range(2)]
    Instrument.objects.update(is_hygiene_due=True)
    client.force_login(director)
    page = posted(client, "desk:picked-clean", horns, product="soap", wet_minutes=0).text
    assert "2 instruments are clean:" in page
    assert not Instrument.objects.filter(is_hygiene_due=True).exists()


def test_care_is_recorded_for_those_that_ask_for_it_once_and_the_others_are_named(client, director, school):
    horn, drum = make_instrument(school=school), make_instrument(school=school, kind_code="snare_kit")
    client.force_login(director)
    asked = {"number": [horn.asset_number, drum.asset_number]}
    page = client.get(reverse("desk:picked-care"), asked).text
    assert "Record care of 2 instruments" in page
    code = re.search(r'<option value="(\w*bath\w*)"', page)[1]
    day = timezone.localdate().isoformat()
    for _ in range(2):
        page = posted(client, "desk:picked-care", [horn, drum], code=code, done_on=day).text
        assert "recorded for 1 instrument." in page
        assert f"{drum.asset_number}: {drum} does not need that kind of care." in page
    assert CareDone.objects.values_list("instrument", "code").get() == (horn.pk, code)
    late = (timezone.localdate() + timedelta(days=1)).isoformat()
    assert posted(client, "desk:picked-care", [horn], code=code, done_on=late).status_code == 422


def test_links_to_sign_go_out_once_to_who_can_be_mailed_to_and_the_others_are_named(client, director, school, settings):
    settings.MAIL_IS_SET = True
    mailed, alone = make_loan(school=school), make_loan(school=school)
    mailed.student.guardians.update(email="family@example.com")
    alone.student.guardians.update(email="")
    client.force_login(director)
    assert reverse("desk:picked-links") in client.get(reverse("loans:list")).text
    page = posted(client, "desk:picked-links", [mailed, alone]).text
    assert "1 link is on its way:" in page
    assert f"{alone.instrument.asset_number}: No guardian can be reached by e-mail." in page
    again = posted(client, "desk:picked-links", [mailed])
    assert again.status_code == 422
    assert "A working link is already out." in again.text
    assert SigningLink.objects.get().loan == mailed
    settings.MAIL_IS_SET = False
    assert reverse("desk:picked-links") not in client.get(reverse("loans:list")).text


def test_a_loan_that_came_back_meanwhile_keeps_its_day_and_the_others_get_the_new_one(client, director, school):
    loans = [make_loan(school=school) for _ in range(2)]
    asked = {"number": [one.instrument.asset_number for one in loans]}
    client.force_login(director)
    assert "Change the due date of 2 loans" in client.get(reverse("desk:picked-due"), asked).text
    return_loan(loan=loans[0], taken_back=None, accessories_back=all_back(loans[0]), actor=director, at=timezone.now())
    day = timezone.localdate() + timedelta(days=30)
    page = posted(client, "desk:picked-due", loans, due_on=day.isoformat()).text
    assert "1 loan: now due" in page
    assert f"{loans[0].instrument.asset_number} came back in the meantime" in page
    before = loans[0].due_on
    for loan in loans:
        loan.refresh_from_db()
    assert [loan.due_on for loan in loans] == [before, day]


def test_a_day_in_the_past_stays_typed(client, director, school):
    client.force_login(director)
    answer = posted(client, "desk:picked-due", [make_loan(school=school)], due_on=date(2020, 1, 1).isoformat())
    assert answer.status_code == 422
    assert "That day is in the past." in answer.text


@pytest.mark.parametrize(("role", "acts"), [("director", 5), ("tech", 4), ("auditor", 0)])
def test_boxes_stand_in_the_register_for_those_who_may_do_something(client, school, request, role, acts):
    make_instrument(school=school, at=timezone.now())
    client.force_login(request.getfixturevalue(role))
    page = client.get(reverse("inventory:list")).text
    assert page.count("formaction=") == acts
    assert ('name="number"' in page) is bool(acts)


def test_labels_and_letters_take_the_checked_numbers(client, director, school):
    loans = [make_loan(school=school) for _ in range(2)]
    numbers = [one.instrument.asset_number for one in loans]
    client.force_login(director)
    assert (
        f">{chr(10)}{' '.join(numbers)}</textarea>" in client.get(reverse("inventory:labels"), {"number": numbers}).text
    )
    assert client.get(reverse("loans:notices"), {"number": numbers}).status_code == 200
    page = client.get(reverse("loans:list")).text
    assert all(f'name="number" value="{number}"' in page for number in numbers)
