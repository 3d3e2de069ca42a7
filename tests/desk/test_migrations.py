"""What was there before every row had an event is opened by the upgrade, once."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.core.management import call_command

from core.events import broken_links
from core.models import Event
from core.photos import clean_photo
from core.stored_files import file_differences
from core.traces import NOW as NOW_KEY
from core.traces import OPENING, log_differences
from inventory.models import Photo
from inventory.services.care import keep_photo
from loans.models import Agreement, Guardian
from repairs.models import ShopOrder
from tests.factories import NOW, make_instrument, make_room
from tests.loans.makers import make_agreement
from tests.migrating import newest_afterward
from tests.opening import open_all
from tests.pictures import jpeg
from tests.repairs.money_makers import make_attempt, make_item, make_returned_order
from tests.tampering import tamper


def migrate_away_and_back() -> None:
    call_command("migrate", "desk", "zero", verbosity=0)
    call_command("migrate", "desk", verbosity=0)


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
def test_rows_of_old_are_opened_with_what_they_hold(request):
    newest_afterward(request)
    make_agreement()
    make_attempt()
    make_item(quantity="3")
    make_returned_order(amount=70)
    room = make_room()
    open_all(only={Guardian})  # opened by the migration that made them rows
    assert f"room {room.pk} is there, but no event says how it came about" in list(log_differences())
    migrate_away_and_back()
    assert list(log_differences()) == []
    assert list(broken_links()) == []
    order = ShopOrder.objects.get()
    opened = Event.objects.filter(act=OPENING)
    assert opened.get(subject_type="repairs.shoporder").after[NOW_KEY]["invoice_amount"] == "70.00"
    count = opened.count()
    migrate_away_and_back()
    assert opened.count() == count
    tamper("UPDATE repairs_shoporder SET invoice_amount = 71 WHERE id = %s", order.pk)
    (told,) = log_differences()
    assert told.startswith(f"shop order {order.pk}: invoice amount is 71")


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
def test_small_pictures_and_signatures_of_old_get_the_hash_of_what_is_there(request, tmp_path, settings):
    newest_afterward(request)
    settings.MEDIA_ROOT = tmp_path
    first, lost = make_agreement(), make_agreement()
    photo = keep_photo(instrument=make_instrument(), photo=clean_photo(jpeg()), actor=first.loan.actor, at=NOW)
    Agreement.objects.update(student_signature_sha256="", guardian_signature_sha256="")
    Photo.objects.update(small_sha256="")
    Path(lost.guardian_signature.path).unlink()
    migrate_away_and_back()
    kept = dict(Agreement.objects.values_list("pk", "guardian_signature_sha256"))
    assert kept == {first.pk: first.guardian_signature_sha256, lost.pk: ""}
    assert Photo.objects.get().small_sha256 == photo.small_sha256
    assert list(broken_links()) == []
    assert list(file_differences()) == [
        f"agreement {lost.pk}: guardian signature: the file {lost.guardian_signature.name} is missing"
    ]
    opened = Event.objects.filter(act=OPENING, subject_type="loans.agreement", subject_id=str(first.pk))
    told = [event.after[NOW_KEY] for event in opened.order_by("number")][-2:]
    assert {name: value for one in told for name, value in one.items()} == {
        "student_signature_sha256": first.student_signature_sha256,
        "guardian_signature_sha256": first.guardian_signature_sha256,
    }
    count = Event.objects.count()
    migrate_away_and_back()
    assert Event.objects.count() == count
    Agreement.objects.filter(pk=first.pk).update(guardian_signature_sha256="0" * 64)
    assert any("guardian signature sha256" in line for line in log_differences())
