"""What families have not settled yet: a link to sign, and a lost instrument. Draws no random numbers."""

from __future__ import annotations

from datetime import timedelta

from desk.demo.money import nonce_of
from desk.demo.stage import Stage
from desk.demo.year import PERCUSSION, hand_out
from inventory.models import Instrument, Readiness, Whereabouts
from loans.models import AssignmentLine, Loan, Loss, SigningLink, Student
from loans.services.losses import change_loss, report_loss
from loans.services.signing_links import keep_mailed_link, make_link

SCHOOL = "ALDER"
TOKEN = "OPENTHEWATERKEYANDSIGNFROMHOME22"  # noqa: S105  # anyone may sign in the demo district
SEARCHED = 4  # days


def send_link(stage: Stage) -> SigningLink | None:
    """Lend one more instrument to a student whose guardian has an e-mail address, and send the link to sign for it."""
    school = stage.schools[SCHOOL]
    director = stage.director_of(school)
    instrument = (
        Instrument.objects.filter(school=school, whereabouts=Whereabouts.IN_STORE, readiness=Readiness.MAY_GO_OUT)
        .exclude(kind_code__in=PERCUSSION)
        .exclude(pk__in=AssignmentLine.objects.exclude(instrument=None).values("instrument"))
        .order_by("pk")
        .first()
    )
    out = Loan.objects.open().values("student")
    free = Student.objects.current().filter(school=school, wants_kind="", guardians__email__contains="@")
    student = free.exclude(pk__in=out).order_by("pk").first()
    if instrument is None or student is None:  # a small demo may lack one
        return None
    loan = hand_out(
        instrument, student, due=stage.today + timedelta(days=190), actor=director, at=stage.at(0, 8),
        nonce=nonce_of("link to sign"),
    )  # fmt: skip
    guardian = student.guardians.filter(email__contains="@").earliest("place")
    link = make_link(loan=loan, guardian=guardian, token="", actor=director, at=stage.at(0, 9))
    keep_mailed_link(link=link, token=TOKEN, actor=None, at=stage.at(0, 9, 1))
    return link


def report_lost(stage: Stage) -> Loss | None:
    """Report one of this year's loans as lost; half of what is to be done then is done."""
    school = stage.schools[SCHOOL]
    director = stage.director_of(school)
    loan = (
        Loan.objects.open()
        .filter(school=school, due_on__gt=stage.today, lent_on__lt=stage.today - timedelta(days=SEARCHED))
        .filter(instrument__whereabouts=Whereabouts.WITH_STUDENT, instrument__problem_reports=None)
        .exclude(instrument__in=stage.watched)
        .order_by("pk")
        .last()
    )
    if loan is None:
        return None
    noticed, at = stage.at(-SEARCHED).date(), stage.at(-SEARCHED, 16)
    loss = report_loss(
        loan=loan, sort="lost", noticed_on=noticed, actor=director, at=at, nonce=nonce_of("lost"),
        circumstances="Left on the bus after the away game; the driver did not find it.",
    )  # fmt: skip
    steps = {"search": noticed, "family": noticed + timedelta(days=1)}
    typed = {"insurer": "District risk pool"}
    return change_loss(loss=loss, steps=steps, typed=typed, actor=director, at=stage.at(1 - SEARCHED, 15))
