"""A process is killed in the middle of its writing: what it had answered is there, and nothing is there by half.

A few kills of each kind in every suite; in the drill 340 in all, on each database.
"""

from __future__ import annotations

import hashlib
import os
import random
import signal
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from functools import partial
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connections
from django.utils import timezone

from core.erasures import noted_erasures
from core.models import User
from desk.services.lending import lend_at_desk, take_back_at_desk
from inventory.models import Inspection, Instrument, Purpose, School
from inventory.services.importing import publish_import
from inventory.services.inspecting import answer_safety, finish_inspection, look_at_rest, start_inspection
from inventory.services.registering import register_instrument
from loans.models import Agreement, Loan, Student
from loans.selectors.papers import due_papers, paper_differences, waiting_papers
from loans.services import Signing, erase_student
from loans.services.erasing import erasure_row
from loans.tasks import make_paper
from repairs.models import ShopOrder, StockItem, StockMove
from repairs.services.orders import send_to_shop
from repairs.services.stock import receive_stock
from tests.factories import (
    NOW,
    TODAY,
    make_bench,
    make_director,
    make_instrument,
    make_ready_instrument,
    make_student,
    new_nonce,
)
from tests.inventory.services.importing.makers import make_judged
from tests.loans.makers import all_back, all_counts, content, ink, make_agreement, make_loan
from tests.opening import differences
from tests.repairs.makers import do_next, make_job
from tests.repairs.money_makers import make_item, make_order

pytestmark = pytest.mark.django_db(transaction=True)

ACTS, FEW, MANY = 4, 2, 34  # acts in the life of a process, and lives of each kind
LONGEST_WAIT_S = 0.12
LATER = NOW + timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Deed:
    """An act, and the share of it that is there afterward: 1 all of it, 0 nothing, anything between is half done."""

    do: Callable[[], Any]
    there: Callable[[], float]


def share(*parts: bool) -> float:
    return sum(parts) / len(parts)


def registering(director: User, school: School) -> Deed:
    serial = new_nonce().hex

    def there() -> float:
        row = Instrument.objects.filter(serial=serial).first()
        return 0 if row is None else share(True, row.tags.exists(), row.custodies.exists(), row.accessories.exists())

    said = {"kind_code": "trumpet", "school": school, "maker": "Plain", "serial": serial, "actor": director, "at": NOW}
    return Deed(partial(register_instrument, **said), there)


def importing(director: User, school: School) -> Deed:
    maker = f"Plain {new_nonce().hex[:8]}"
    data = "Instrument,Make,Serial\n" + "".join(f"Tpt,{maker},{new_nonce().hex}\n" for _ in range(8))
    batch = make_judged(school=school, data=data.encode(), actor=director)
    return Deed(
        partial(publish_import, batch=batch, actor=director, at=NOW, today=TODAY),
        lambda: Instrument.objects.filter(maker=maker, tags__isnull=False, custodies__isnull=False).count() / 8,
    )


def inspecting(director: User, school: School) -> Deed:
    instrument = make_instrument(school=school)
    draft = start_inspection(instrument=instrument, purpose=Purpose.SPOT, actor=director, at=NOW)
    answer_safety(inspection=draft, is_safe=True, actor=director, at=NOW)
    look_at_rest(inspection=draft, actor=director, at=NOW)

    def there() -> float:
        row = Instrument.objects.get(pk=instrument.pk)
        return share(Inspection.objects.get(pk=draft.pk).finished_at is not None, row.inspected_at is not None)

    return Deed(partial(finish_inspection, inspection=draft, actor=director, at=NOW), there)


def stepping(director: User, school: School) -> Deed:
    job = make_job(school=school, actor=director)
    return Deed(partial(do_next, job), lambda: min(1, job.attempts.count()))


def lending(director: User, school: School) -> Deed:
    instrument = make_ready_instrument(school=school)
    student = make_student(school=school)
    signing = Signing(
        signed="screen", student_signature=ink(), guardian_signature=ink(), guardian_signer="Gale Guardian"
    )

    def there() -> float:
        loan = Loan.objects.filter(instrument=instrument).first()
        where = Instrument.objects.get(pk=instrument.pk).whereabouts == "with_student"
        if loan is None:
            return share(where, False)
        paper = Agreement.objects.filter(loan=loan).first()
        if paper is None:
            return 0.5
        files = [field.storage.exists(field.name) for field in (paper.student_signature, paper.guardian_signature)]
        return share(where, *files, bool(paper.pdf_sha256) or paper.pk in waiting_papers())

    said = {
        "instrument": instrument, "student": student, "due_on": TODAY + timedelta(days=30), "signing": signing,
        "accessories": all_counts(instrument), "nonce": new_nonce(), "actor": director, "at": NOW,
    }  # fmt: skip
    return Deed(partial(lend_at_desk, **said), there)


def returning(director: User, school: School) -> Deed:
    loan = make_loan(school=school, actor=director)
    back = all_back(loan)

    def there() -> float:
        now = Loan.objects.select_related("instrument").get(pk=loan.pk)
        came = now.returned_at is not None
        return share(came, now.taken_back_id is not None, now.instrument.whereabouts == "in_store")

    return Deed(partial(take_back_at_desk, loan=loan, accessories_back=back, actor=director, at=LATER), there)


def ordering(director: User, school: School) -> Deed:
    order = make_order(instrument=make_ready_instrument(school=school), actor=director)

    def there() -> float:
        now = ShopOrder.objects.select_related("instrument").get(pk=order.pk)
        return share(now.sent_at is not None, now.instrument.whereabouts == "at_shop")

    return Deed(partial(send_to_shop, order=order, actor=director, at=NOW), there)


def stocking(director: User, school: School) -> Deed:
    item = make_item(bench=make_bench(school=school), actor=director)

    def there() -> float:
        return share(StockItem.objects.get(pk=item.pk).quantity == 5, StockMove.objects.filter(item=item).count() == 1)

    return Deed(partial(receive_stock, item=item, quantity=5, nonce=new_nonce(), actor=director, at=NOW), there)


def erasing(director: User, school: School) -> Deed:
    loan = make_loan(school=school, actor=director)
    make_agreement(loan)
    take_back_at_desk(loan=loan, accessories_back=all_back(loan), actor=director, at=NOW + timedelta(hours=1))

    def there() -> float:
        now = Student.objects.get(pk=loan.student_id)
        return share(now.name == "", now.erased_at is not None, not Agreement.objects.get(loan=loan).student_signature)

    return Deed(partial(erase_student, student=loan.student, actor=director, at=LATER), there)


def making_papers(director: User, school: School) -> Deed:
    paper = make_agreement(make_loan(school=school, actor=director))
    make_paper.enqueue(agreement=paper.pk)

    def there() -> float:
        now = Agreement.objects.get(pk=paper.pk)
        if not now.pdf_sha256:
            return share(bool(now.pdf), False)
        return share(hashlib.sha256(content(now.pdf)).hexdigest() == now.pdf_sha256, True)

    return Deed(partial(call_command, "work", "--once"), there)


KINDS = (
    registering, importing, inspecting, stepping, lending, returning, ordering, stocking, erasing, making_papers,
)  # fmt: skip


def live_and_die(deeds: list[Deed], *, dies: random.Random) -> int:
    """Do the deeds in a process of their own and kill it at some moment; return how many it had answered."""
    connections.close_all()  # or both would talk over one
    reader, writer = os.pipe()
    child = os.fork()
    if not child:
        try:
            os.close(reader)
            for deed in deeds:
                deed.do()
                os.write(writer, b".")
        except BaseException:  # noqa: BLE001  # told to the parent; this process ends here
            os.write(writer, b"!" + traceback.format_exc().encode()[-4000:])
        os._exit(0)
    os.close(writer)
    after = dies.randrange(len(deeds))
    answered = os.read(reader, after) if after else b""
    while len(answered) < after and b"!" not in answered and (more := os.read(reader, after - len(answered))):
        answered += more
    time.sleep(LONGEST_WAIT_S * dies.random() ** 3)  # mostly soon: some acts take a few milliseconds
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    with os.fdopen(reader, "rb") as rest:
        answered += rest.read()
    assert b"!" not in answered, answered.decode()
    return len(answered)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
@pytest.mark.parametrize("lives", [FEW, pytest.param(MANY, marks=pytest.mark.drill)])
def test_killed_at_any_moment_nothing_answered_is_lost_and_nothing_is_half_done(kind, lives, tmp_path, settings):
    settings.ERASURES_FILE = str(tmp_path / "erased")
    dies = random.Random(f"{kind.__name__} {lives}")
    director = make_director()
    school = director.staff_roles.get().school
    cut = 0
    for _ in range(lives):
        deeds = [kind(director, school) for _ in range(ACTS)]
        answered = live_and_die(deeds, dies=dies)
        cut += answered < ACTS
        shares = [deed.there() for deed in deeds]
        assert set(shares) <= {0, 1}, f"half done: {shares}"
        assert shares[:answered] == [1] * answered, f"answered and lost: {shares}, {answered} answered"
        listed = {one.row for one in noted_erasures()}
        if kind is erasing:
            done = Student.objects.exclude(erased_at=None).order_by("erased_at", "pk")
            assert len([student for student in done if erasure_row(student.pk) in listed]) >= answered
    assert cut or lives == FEW, "no life was cut short"
    assert differences()[1] == []
    forgotten = [words for words in paper_differences(now=timezone.now())[1] if kind is lending]
    assert forgotten == [], "a signed loan waits for a paper that nothing makes"
    call_command("work", "--once")  # what the dead left is made by the next worker
    assert not due_papers().exists()
