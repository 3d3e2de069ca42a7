"""Loans and papers for tests, through the services."""

from __future__ import annotations

import base64
import io
from collections import Counter
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from itertools import count
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.utils import timezone
from PIL import Image, ImageDraw

from core.acts import service
from core.models import Event
from inventory.catalog.load import catalog
from inventory.catalog.schema import Severity
from inventory.models import Custody, Inspection, Instrument, Purpose, Role
from inventory.rules.facts import FindingFact
from inventory.services.inspecting import carry_over_inspection
from loans.models import (
    Addendum,
    Agreement,
    AgreementTerms,
    Assignment,
    ClassPeriod,
    Ensemble,
    GradeRoll,
    LedgerEntry,
    LegalHold,
    Loan,
    Loss,
    Notice,
    PaperToSign,
    Seat,
    SharedUse,
    SigningLink,
    Student,
)
from loans.pdf import addendum_pdf
from loans.rules.notices import SIGNATURE, Owed
from loans.selectors.agreements import current_terms, default_terms, paper_facts
from loans.selectors.comparing import findings_in_words
from loans.selectors.grades import rolled_students
from loans.services import (
    add_ensemble,
    add_period,
    change_due_dates,
    file_addendum_pdf,
    lend_instrument,
    propose_assignment,
    return_loan,
    roll_grades,
    seat_students,
    set_hold,
    set_seats,
    share_instrument,
    sign_agreement,
)
from loans.services.ledger import enter_in_ledger
from loans.services.losses import report_loss
from loans.services.notices import make_notice
from loans.services.signing_links import make_link, new_token
from loans.services.to_sign import print_papers
from tests.factories import (
    NOW,
    TODAY,
    make_director,
    make_inspection,
    make_ready_instrument,
    make_school,
    make_student,
    make_user,
    new_nonce,
)


def all_counts(instrument: Instrument) -> dict[str, int]:
    """Everything that belongs to it goes along."""
    return {row.code: row.expected for row in instrument.accessories.all()}


def all_back(loan: Loan) -> dict[str, int]:
    """Everything that went along comes back."""
    return {row["code"]: row["count"] for row in loan.accessories}


def make_hand_out(instrument: Instrument, *, actor: Any, at: Any = NOW) -> Inspection:
    return carry_over_inspection(instrument=instrument, purpose=Purpose.HAND_OUT, actor=actor, at=at, finish=True)


def make_loan(**overrides: Any) -> Loan:
    fields: dict[str, Any] = {"at": NOW, "due_on": TODAY + timedelta(days=200), "nonce": new_nonce()} | overrides
    fields.setdefault("instrument", None)
    instrument = fields["instrument"] = fields["instrument"] or make_ready_instrument(school=overrides.get("school"))
    fields.pop("school", None)
    fields.setdefault("student", None)
    fields["student"] = fields["student"] or make_student(school=instrument.school)
    fields["actor"] = fields.get("actor") or make_director(instrument.school)
    fields.setdefault("accessories", all_counts(instrument))
    return _lend(**fields)


@service
def _lend(**fields: Any) -> Loan:
    """The walk and the loan in one act: the state is refreshed once."""
    if "hand_out" not in fields:
        fields["hand_out"] = make_hand_out(fields["instrument"], actor=fields["actor"], at=fields["at"])
    return lend_instrument(**fields)


numbers = count(1)


def make_ensemble(**overrides: Any) -> Ensemble:
    fields: dict[str, Any] = {"name": f"Band {next(numbers)}", "level": "first_year", "priority": 1} | overrides
    fields["school"] = fields.get("school") or make_school()
    return add_ensemble(actor=None, at=NOW, **fields)


def make_period(**overrides: Any) -> ClassPeriod:
    number = next(numbers)
    fields: dict[str, Any] = {"name": f"Period {number}", "place": number % 9} | overrides
    home = fields["ensemble"].school if fields.get("ensemble") else None
    fields["school"] = fields.get("school") or home or make_school()
    return add_period(actor=None, at=NOW, **fields)


def make_seat(**overrides: Any) -> Seat:
    """A seat in a class of its own, unless ``place`` (a class or an ensemble) is given."""
    student, place = overrides.pop("student", None), overrides.pop("place", None)
    school = overrides.pop("school", None) or (place and place.school) or (student and student.school)
    at = overrides.pop("at", NOW)
    student = student or make_student(school=school)
    place = place or make_period(school=student.school)
    (seat,) = seat_students(place=place, students=[student], actor=None, at=at)
    if overrides:
        set_seats(place=place, seats={seat.pk: overrides}, actor=None, at=at)
    return Seat.objects.get(pk=seat.pk)


def make_shared_use(**overrides: Any) -> SharedUse:
    """A tuba that stays in the room, used in one class."""
    seat = overrides.pop("seat", None) or make_seat(kind_code="tuba", school=overrides.pop("school", None))
    school = seat.student.school
    instrument = overrides.pop("instrument", None) or make_ready_instrument(school=school, kind_code="tuba")
    fields: dict[str, Any] = {"actor": make_director(school), "at": NOW} | overrides
    share_instrument(instrument=instrument, seats={seat.period_id: seat.pk}, **fields)
    return SharedUse.objects.get(seat=seat, until=None)


def make_grade_roll(**overrides: Any) -> GradeRoll:
    """Every sixth grader of the school goes up; with one, where there is none."""
    school = overrides.pop("school", None) or make_school()
    if not rolled_students(school).exists():
        make_student(school=school)
    seen = Counter(rolled_students(school).order_by().values_list("grade", flat=True))
    fields: dict[str, Any] = {
        "steps": {"6": "7"},
        "staying": (),
        "seen": seen,
        "left_on": TODAY,
        "actor": make_director(school),
        "at": NOW,
    }
    return roll_grades(school=school, **fields | overrides)


def make_assignment(**overrides: Any) -> Assignment:
    """A proposal for a school; with a player of a trumpet and a trumpet, where nobody there needs anything."""
    fields: dict[str, Any] = {"at": NOW, "seed": 1, "actor": None} | overrides
    fields["school"] = fields.get("school") or make_school()
    if not Seat.objects.unmet().filter(student__school=fields["school"]).exists():
        make_seat(school=fields["school"], kind_code="trumpet")
        make_ready_instrument(school=fields["school"])
    return propose_assignment(**fields)


def make_returned(*, at: Any = NOW + timedelta(hours=1), **overrides: Any) -> Loan:
    """Back with everything, and on the pile of what is to be inspected."""
    loan = make_loan(**overrides)
    return return_loan(loan=loan, taken_back=None, accessories_back=all_back(loan), actor=loan.actor, at=at)


def make_return_walk(loan: Loan, *, at: Any = NOW + timedelta(days=100), actor: Any = None) -> Inspection:
    """Looked at all over, as it went out."""
    actor = actor or loan.actor
    return carry_over_inspection(instrument=loan.instrument, purpose=Purpose.RETURN, actor=actor, at=at, finish=True)


def make_returned_loan(findings: Sequence[tuple[str, ...]] = (), *, days: int = 100, **overrides: Any) -> Loan:
    """A loan that came back after so many days with these findings, and with all that went along unless ``back`` says else."""
    back = overrides.pop("back", {})
    loan = make_loan(**overrides)
    at = loan.lent_at + timedelta(days=days)
    instrument = Instrument.objects.get(pk=loan.instrument_id)
    walked = make_inspection(
        instrument=instrument, findings=list(findings), actor=loan.actor, purpose=Purpose.RETURN, at=at
    )
    return return_loan(loan=loan, taken_back=walked, accessories_back=all_back(loan) | back, actor=loan.actor, at=at)


def ink(width: int = 300, height: int = 120) -> bytes:
    """A PNG of a scribble, as a signature box sends it."""
    picture = Image.new("RGB", (width, height), "white")
    ImageDraw.Draw(picture).line([(20, 90), (80, 20), (140, 95), (200, 30), (270, 80)], fill="black", width=4)
    out = io.BytesIO()
    picture.save(out, "PNG")
    return out.getvalue()


def ink_address() -> str:
    return "data:image/png;base64," + base64.b64encode(ink()).decode()


def content(field: Any) -> bytes:
    with field.open("rb") as stored:
        return stored.read()


def make_agreement(loan: Loan | None = None, **overrides: Any) -> Agreement:
    loan = loan or make_loan()
    fields: dict[str, Any] = {
        "signed": "screen",
        "student_signature": ink(),
        "guardian_signature": ink(),
        "guardian_signer": "Gale Guardian",
        "actor": loan.actor,
        "at": loan.lent_at,
    } | overrides
    return sign_agreement(loan=loan, **fields)


def make_entry(**overrides: Any) -> LedgerEntry:
    """An entry in an account: a fee of 35 dollars unless said otherwise; a waiver is approved by an administrator, with
    their password."""
    fields: dict[str, Any] = {"sort": "fee", "amount": 35, "on": TODAY, "at": NOW, "nonce": new_nonce()} | overrides
    fields["student"] = fields.get("student") or make_student()
    fields["actor"] = fields.get("actor") or make_director(fields["student"].school)
    fields["amount"] = Decimal(fields["amount"])
    if fields["sort"] == "waiver":
        fields.setdefault("approved_by", make_user(Role.ADMINISTRATOR))
        fields.setdefault("is_confirmed", True)
    return enter_in_ledger(**fields)


def make_addendum(loan: Loan) -> Addendum:
    """Another due date for a loan whose agreement is signed, with its paper."""
    change_due_dates(loans=[loan], due_on=loan.due_on + timedelta(days=9), actor=loan.actor, at=loan.lent_at)
    addendum = Addendum.objects.get(agreement__loan=loan)
    data = addendum_pdf(addendum, paper_facts(addendum.agreement))
    return file_addendum_pdf(addendum=addendum, data=data, actor=loan.actor, at=loan.lent_at)


def make_hold(**overrides: Any) -> LegalHold:
    fields: dict[str, Any] = {"reason": "A claim is pending.", "ends_on": TODAY + timedelta(days=400), "at": NOW}
    fields |= overrides
    fields.setdefault("student", None)
    fields["student"] = fields["student"] or make_student()
    fields.setdefault("actor", fields.get("actor") or make_user(Role.ADMINISTRATOR))
    return set_hold(**fields)


def make_letter(loan: Loan | None = None, **overrides: Any) -> Notice:
    """A letter that waits to be printed: the agreement is still to be signed."""
    loan = loan or make_loan(**overrides)
    notice = make_notice(loan=loan, owed=Owed(SIGNATURE, loan.lent_on, 1), actor=None, at=NOW)
    assert notice is not None
    return notice


def make_paper(**overrides: Any) -> PaperToSign:
    """A paper printed to be signed, with the instrument left open."""
    fields: dict[str, Any] = {"at": NOW} | overrides
    student = fields.pop("student", None) or make_student(school=fields.get("school"))
    fields.pop("school", None)
    fields.setdefault("actor", None)
    fields["actor"] = fields["actor"] or make_director(student.school)
    (paper,) = print_papers(students=[student], **fields)
    return paper


def make_signing_link(loan: Loan | None = None, **overrides: Any) -> tuple[SigningLink, str]:
    """A printed link for a guardian, and the token in it."""
    fields: dict[str, Any] = {"at": timezone.now(), "token": new_token()} | overrides
    school = fields.pop("school", None)
    loan = loan or make_loan(school=school)
    fields.setdefault("actor", loan.actor)
    fields.setdefault("guardian", loan.student.guardian)
    return make_link(loan=loan, **fields), fields["token"]


def make_loss(loan: Loan | None = None, **overrides: Any) -> Loss:
    """A case for an instrument that is out."""
    loan = loan or make_loan()
    fields: dict[str, Any] = {"sort": "lost", "noticed_on": TODAY, "actor": loan.actor, "at": NOW} | overrides
    return report_loss(loan=loan, **fields)


def make_lending_form(student: Student, **overrides: Any) -> dict[str, Any]:
    """What a browser sends to lend: everything goes along, both have signed on the screen."""
    return {
        "nonce": str(new_nonce()),
        "terms": current_terms().key,
        "student": student.pk,
        "all_here": "on",
        "due": "2027-05-28",
        "signed": "screen",
        "student_signature": ink_address(),
        "guardian_signature": ink_address(),
        "guardian_signer": "Gale Guardian",
    } | overrides


def state_of_rows() -> tuple[Any, ...]:
    """What must be the same before and after a refusal: nothing was written."""
    return (
        Loan.objects.count(),
        Agreement.objects.count(),
        Student.objects.count(),
        Custody.objects.count(),
        Inspection.objects.count(),
        Event.objects.count(),
        sorted(Instrument.objects.values_list("pk", "whereabouts", "readiness", "is_hygiene_due")),
        sorted(Loan.objects.values_list("pk", "returned_at", "due_on")),
    )


def refused(act: Callable[..., object], error: type[Exception], **arguments: Any) -> str:
    """The act raises the error and writes nothing; returns its sentence."""
    before = state_of_rows()
    with pytest.raises(error) as told:
        act(**arguments)
    assert state_of_rows() == before
    return str(told.value)


FOUND = (
    FindingFact(key="1", part="bell_bow", fault="dent_small", severity=Severity.LIGHT),
    FindingFact(key="2", part="third_valve_slide", fault="slide_seized", severity=Severity.MODERATE),
)
FACTS: dict[str, Any] = {
    "district": "Test District",
    "school": "Elm Street Middle",
    "phone": "555-0100",
    "asset_number": "TD-0042",
    "kind_code": "trumpet",
    "kind": "Trumpet",
    "options": {},
    "maker": "Plain Brass Works",
    "model": "Student",
    "serial": "123456",
    "replacement_amount": "1250.00",
    "lent_on": "2026-09-14",
    "due_on": "2027-05-28",
    "accessories": [
        {"name": "case", "count": 1},
        {"name": "mouthpiece", "count": 1},
        {"name": "valve oil", "count": 2},
    ],
    "verdict": "Plays with limits",
    "is_inspected": False,
    "findings": list(findings_in_words(catalog().kind("trumpet"), FOUND)),
    "signs": [],
    "photos": 2,
}
NAMES = {"student": "Robin Reed", "grade": "6", "guardian": "Gale Reed", "lent_by": "Dana Director"}


def unsaved_agreement(**changed: Any) -> Agreement:
    """One that is in no database; ``changed`` are columns of agreement, terms or loan, or of what was agreed."""
    columns: dict[str, Any] = {
        "limits": ["Low D is 30 cents sharp."],
        "limits_reason": "Plays the upper part.",
        "text": default_terms(),
        "version": 3,
        "signed": "screen",
        "signed_at": datetime(2026, 9, 14, 15, 4, tzinfo=UTC),
        "guardian_signer": "Gale Reed",
        "student_signature": ContentFile(ink(), name="student.png"),
        "guardian_signature": ContentFile(ink(), name="guardian.png"),
        "facts": FACTS | {name: value for name, value in changed.items() if name in FACTS},
        "names": NAMES | {name: value for name, value in changed.items() if name in NAMES},
    } | changed
    loan = Loan(limits=columns["limits"], limits_reason=columns["limits_reason"])
    return _made(Agreement, columns, terms=_made(AgreementTerms, columns), loan=loan)


def _made(model: Any, columns: dict[str, Any], **related: Any) -> Any:
    own = {field.name for field in model._meta.concrete_fields}
    return model(**{name: value for name, value in columns.items() if name in own}, **related)
