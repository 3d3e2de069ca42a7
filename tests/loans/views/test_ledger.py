"""A family's account over HTTP: what is entered, taken back, printed and taken along."""

from __future__ import annotations

import csv
import io

import pypdfium2
import pytest
from django.urls import reverse
from django.utils import timezone
from openpyxl import load_workbook

from core.models import Event
from inventory.models import Role
from loans.models import LedgerEntry
from loans.rules.due import school_year_words
from loans.selectors.ledger import ledger_differences, owed_by, school_year_of, waived_for, yet_to_charge
from loans.services.ledger import reverse_entry
from tests.factories import TODAY, make_school, make_student, make_user, new_nonce
from tests.loans.makers import make_entry, make_loan

pytestmark = pytest.mark.django_db


@pytest.fixture
def student(school):
    return make_student(school=school, name="Robin <b>Reed</b>", guardian_name="Gale Reed")


@pytest.fixture
def desk(client, director):
    client.force_login(director)
    return client


def text_of(answer) -> str:
    return "\n".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(answer.content))


def enter(desk, student, sort, **typed):
    return desk.post(reverse("loans:enter", args=[student.pk, sort]), {"on": TODAY.isoformat()} | typed, follow=True)


def test_a_fee_is_charged_paid_in_part_and_the_rest_waived(desk, student, director):
    account = reverse("loans:account", args=[student.pk])
    assert "Nothing has been entered yet" in desk.get(account).text
    enter(desk, student, "fee", amount="35", note="Instrument fee")
    assert 'value="35' in desk.get(reverse("loans:enter", args=[student.pk, "payment"])).text, (
        "what is owed is proposed"
    )
    page = enter(desk, student, "payment", amount="20", by="check", note="No. 1042").text
    assert "Owes $15" in page
    assert "Payment, check" in page
    assert "Robin <b>" not in page
    admin = make_user(Role.ADMINISTRATOR, name="Ada Office")
    form = desk.get(reverse("loans:enter", args=[student.pk, "waiver"])).text
    assert "Ada Office" in form
    assert f'value="{director.pk}"' not in form, "somebody else has approved it"
    page = enter(desk, student, "waiver", amount="15", approved_by=admin.pk).text
    assert "Nothing owed" in page
    assert "approved by Ada Office" in page


def test_a_large_waiver_is_approved_by_the_password_of_who_approves_it(desk, student, director):
    make_entry(student=student, amount=300)
    admin = make_user(Role.ADMINISTRATOR, name="Ada Office")
    admin.set_password("reed-and-ligature")
    admin.save()
    director.set_password("slide-and-mouthpiece")
    director.save()
    desk.force_login(director)
    typed = {"amount": "250", "approved_by": admin.pk}
    page = enter(desk, student, "waiver", **typed)
    assert page.status_code == 422
    assert "To approve this, Ada Office types their own password here." in page.text
    for wrong in ("reed-and-ligatur", "slide-and-mouthpiece"):  # a slip, and the director's own
        page = enter(desk, student, "waiver", password=wrong, **typed)
        assert page.status_code == 422
        assert "That is not the password of Ada Office." in page.text
        assert wrong not in page.text
    assert owed_by(student) == 300
    page = enter(desk, student, "waiver", password="reed-and-ligature", **typed).text
    assert "approved by Ada Office, with their password" in page
    assert owed_by(student) == 50
    page = enter(desk, student, "waiver", amount="50", approved_by=admin.pk).text
    assert "Nothing owed" in page
    sheet = desk.post(reverse("loans:export-ledger"), {"form": "csv", "sort": "waiver"}).getvalue().decode("utf-8-sig")
    told = [(row["Credit"], row["Approved with password"]) for row in csv.DictReader(io.StringIO(sheet))]
    assert [row for row in told if row[0]] == [("250.00", "yes"), ("50.00", "")]


def test_wrong_passwords_of_an_approver_are_counted_against_whoever_asks(desk, student, settings):
    make_entry(student=student, amount=300)
    admin = make_user(Role.ADMINISTRATOR)
    admin.set_password("reed-and-ligature")
    admin.save()
    typed = {"amount": "250", "approved_by": admin.pk}
    for _ in range(settings.LOG_IN_TRIES):
        assert enter(desk, student, "waiver", password="wrong", **typed).status_code == 422
    assert enter(desk, student, "waiver", password="reed-and-ligature", **typed).status_code == 429
    assert owed_by(student) == 300
    other = make_user(Role.ADMINISTRATOR)
    other.set_password("neck-and-crook")
    other.save()
    page = enter(desk, student, "waiver", amount="250", approved_by=other.pk, password="neck-and-crook")
    assert "approved by" in page.text, "another approver's password may still be tried"
    desk.logout()
    typed = {"username": admin.username, "password": "reed-and-ligature"}
    assert desk.post(reverse("core:log-in"), typed).status_code == 302, "the approver gets in from the same network"


@pytest.mark.parametrize(
    ("sort", "typed", "words"),
    [
        ("fee", {"amount": "35"}, "This field is required"),
        ("fee", {"amount": "0", "note": "Fee"}, "greater than or equal to 0.01"),
        ("payment", {"amount": "5", "by": "gold"}, "Select a valid choice"),
        ("refund", {"amount": "5", "by": "cash"}, "At most $0 can be paid back"),
        ("waiver", {"amount": "5"}, "This field is required"),
    ],
)
def test_what_is_refused_stays_typed(desk, student, sort, typed, words):
    answer = enter(desk, student, sort, **typed)
    assert answer.status_code == 422
    assert words in answer.text
    assert f'value="{typed["amount"]}"' in answer.text
    assert not LedgerEntry.objects.exists()


def test_a_mistake_is_taken_back_and_the_receipt_says_so(desk, student, school):
    entry = make_entry(student=student, sort="payment", amount="20.50", reckoning={"by": "cash"})
    receipt = reverse("loans:receipt", args=[entry.pk, "en"])
    number = f"{school.code}-{entry.pk:06d}"
    text = text_of(desk.get(receipt))
    for said in (f"Receipt {number}", "$20.50", "cash", "−$20.50"):
        assert said in text
    assert "no longer valid" not in text
    page = desk.post(reverse("loans:reverse-entry", args=[entry.pk]), {"because": "Wrong student"}, follow=True).text
    assert "Reversed: Payment" in page
    assert reverse("loans:reverse-entry", args=[entry.pk]) not in page
    assert owed_by(student) == 0
    assert "no longer valid" in text_of(desk.get(receipt))
    told = Event.objects.filter(act="exported")
    assert [(event.tenant, event.after["what"]) for event in told] == [(school.pk, "receipt")] * 2
    again = desk.post(reverse("loans:reverse-entry", args=[entry.pk]), {"because": "Again"})
    assert (again.status_code, owed_by(student)) == (422, 0)


@pytest.mark.parametrize(
    ("language", "said"),
    [("en", ("Dear Gale Reed", "Balance owed: $35", "Fee")), ("es", ("Saldo por pagar: $35", "Cuota"))],
)
def test_the_statement_is_a_letter_in_the_familys_language(desk, student, language, said):
    make_entry(student=student, note="Instrument fee")
    text = text_of(desk.get(reverse("loans:statement", args=[student.pk, language])))
    for words in said:
        assert words in text
    assert desk.get(reverse("loans:statement", args=[student.pk, "fr"])).status_code == 404
    assert Event.objects.get(act="exported").after == {"what": "statement", "form": "pdf", "rows": 1}


def test_the_list_begins_with_who_owes_and_finds_a_name(desk, school, director):
    owes, settled = make_student(school=school, name="Ann Owes"), make_student(school=school, name="Bo Settled")
    make_entry(student=owes)
    for sort in ("fee", "payment"):
        make_entry(student=settled, sort=sort)
    make_entry(student=make_student(school=make_school(), name="Cy Elsewhere"))
    page = desk.get(reverse("loans:balances")).text
    assert "Owes, Ann" in page
    assert "$35" in page
    assert "Settled" not in page
    assert "Elsewhere" not in page
    every = desk.get(reverse("loans:balances"), {"state": "all"}).text
    assert "Settled, Bo" in every
    found = desk.post(reverse("loans:balances"), {"q": "settled", "state": "all"}, follow=True).text
    assert "Settled, Bo" in found
    assert "Owes, Ann" not in found


def test_the_bookkeeper_gets_a_row_for_each_debit_and_credit(desk, school, director):
    student = make_student(school=school, name="Ann Owes")
    fee = make_entry(student=student, actor=director)
    loan = make_loan(school=school, student=student, actor=director)
    make_entry(student=student, sort="payment", amount="12.25", reckoning={"by": "check"}, actor=director, loan=loan)
    make_entry(student=make_student(school=make_school()))
    page = desk.get(reverse("loans:journal"), {"sort": "payment"}).text
    assert "$12.25" in page
    assert "$35" not in page
    sheet = desk.post(reverse("loans:export-ledger"), {"form": "csv"})
    rows = list(csv.DictReader(io.StringIO(sheet.getvalue().decode("utf-8-sig"))))
    told = [(row["Account"], row["Debit"], row["Credit"]) for row in rows]
    assert told == [
        ("Owed by families", "35.00", ""),
        ("Fees", "", "35.00"),
        ("Received", "12.25", ""),
        ("Owed by families", "", "12.25"),
    ]
    assert {row["Entry"] for row in rows[:2]} == {str(fee.pk)}
    assert rows[2]["Instrument"] == loan.instrument.asset_number
    event = Event.objects.get(act="exported")
    assert event.after == {"what": "ledger", "form": "csv", "rows": 4}
    assert event.tenant == school.pk
    book = desk.post(reverse("loans:export-ledger"), {"form": "xlsx", "sort": "payment"})
    cells = list(load_workbook(io.BytesIO(book.getvalue())).active.iter_rows(values_only=True))
    assert sum(row[5] or 0 for row in cells[1:]) == sum(row[6] or 0 for row in cells[1:]) == 12.25


def test_the_yearly_fee_is_charged_to_each_borrower_once(desk, school, student):
    loan = make_loan(school=school, student=student)
    staff = make_student(school=school, who="staff", grade="", name="Coach")
    make_loan(school=school, student=staff)
    make_loan(school=make_school())
    address = reverse("loans:yearly-fee")
    assert "1 to charge" in desk.get(address).text
    typed = {"school": school.pk, "amount": "35", "note": "Instrument fee", "on": TODAY.isoformat()}
    assert "1 family is charged" in desk.post(address, typed, follow=True).text
    assert (owed_by(student), owed_by(staff), LedgerEntry.objects.count()) == (35, 0, 1)
    again = desk.post(address, typed)
    assert (again.status_code, LedgerEntry.objects.count()) == (422, 1)
    entry = LedgerEntry.objects.get()
    desk.post(reverse("loans:reverse-entry", args=[entry.pk]), {"because": "Fee waived"})
    assert "1 family is charged" in desk.post(address, typed, follow=True).text
    assert owed_by(loan.student) == 35


def test_a_waiver_may_stand_for_the_yearly_fee_of_later_school_years(desk, school, student, director):
    make_loan(school=school, student=student)
    paying = make_loan(school=school).student
    make_entry(student=student)
    admin, year = make_user(Role.ADMINISTRATOR), school_year_of(timezone.localdate())
    waiver = {"amount": "35", "approved_by": admin.pk}
    assert enter(desk, student, "waiver", through=year + 4, **waiver).status_code == 422
    page = enter(desk, student, "waiver", through=year, **waiver).text
    assert f"also the yearly fee through {school_year_words(year)}" in page
    entry = LedgerEntry.objects.get(sort="waiver")
    assert Event.objects.filter(act="ledger_entered").latest("number").after["waived_through"] == year
    address = reverse("loans:yearly-fee")
    assert "1 to charge, 1 waived" in desk.get(address).text
    typed = {"school": school.pk, "amount": "35", "note": "Instrument fee", "on": timezone.localdate().isoformat()}
    page = desk.post(address, typed, follow=True).text
    assert "1 family is charged. 1 is left out by a waiver." in page
    assert (owed_by(student), owed_by(paying)) == (0, 35)
    assert set(yet_to_charge(school, year=year + 1)) == {student, paying}
    reverse_entry(entry=entry, because="Slip", actor=director, at=timezone.now(), nonce=new_nonce())
    assert list(yet_to_charge(school, year=year)) == [student]
    assert list(ledger_differences()) == []


def test_a_waiver_of_later_yearly_fees_is_given_to_a_family_that_owes_nothing(desk, school, student, director):
    make_loan(school=school, student=student)
    year = school_year_of(timezone.localdate())
    account = reverse("loans:account", args=[student.pk])
    assert reverse("loans:enter", args=[student.pk, "waiver"]) in desk.get(account).text
    waiver = {"amount": "", "approved_by": make_user(Role.ADMINISTRATOR).pk}
    refused = enter(desk, student, "waiver", **waiver)
    assert (refused.status_code, "Enter an amount, or choose below" in refused.text) == (422, True)
    page = enter(desk, student, "waiver", through=year + 1, **waiver).text
    assert f"Yearly fees are waived through {school_year_words(year + 1)}." in page
    assert f">the yearly fee through {school_year_words(year + 1)}<" in page
    assert list(yet_to_charge(school, year=year)) == []
    assert list(waived_for(school, year=year)) == [student]
    assert desk.get(reverse("loans:statement", args=[student.pk, "es"])).content.startswith(b"%PDF")


def test_the_school_of_the_yearly_fee_is_a_list_that_wraps_on_a_phone(desk, school, student):
    make_loan(school=school, student=student)
    page = desk.get(reverse("loans:yearly-fee")).text
    assert f'type="radio" name="school" value="{school.pk}"' in page
    assert "checked" in page, "the only school there is"


def test_an_auditor_reads_and_enters_nothing(client, auditor, student, school):
    entry = make_entry(student=student)
    private = make_student(school=school, name="Ada Berg", is_private=True)
    make_entry(student=private)
    client.force_login(auditor)
    page = client.get(reverse("loans:account", args=[student.pk])).text
    assert "$35" in page
    assert reverse("loans:reverse-entry", args=[entry.pk]) not in page
    assert "Berg" not in client.post(reverse("loans:export-ledger"), {"form": "csv"}).getvalue().decode()


def test_student_and_loan_say_what_is_owed(desk, student, school):
    loan = make_loan(school=school, student=student)
    make_entry(student=student)
    for page in (reverse("loans:student", args=[student.pk]), reverse("loans:loan", args=[loan.pk])):
        text = desk.get(page).text
        assert "Owes $35" in text
        assert reverse("loans:account", args=[student.pk]) in text
