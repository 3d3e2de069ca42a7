from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.utils import timezone

from core.models import Event
from inventory.models import School
from inventory.services.calendars import make_calendar_link
from inventory.services.opening import make_opening_link
from inventory.services.registering import record_donation
from tests.factories import NOW, TODAY, make_director, make_ready_instrument, make_student
from tests.inventory.leaving_makers import make_disposal, make_paper_of, make_transfer
from tests.inventory.purchase_makers import make_purchase_request
from tests.inventory.sample_makers import make_sample
from tests.inventory.services.importing.makers import make_judged
from tests.loans.makers import (
    make_loan,
    make_loss,
    make_paper,
    make_returned,
    make_returned_loan,
    make_signing_link,
)
from tests.permission_matrix import Row, desk_counts
from tests.permission_matrix.inventory_walk import report_pk
from tests.permission_matrix.makers import instrument_number, tag_token


def student_pk(school: School) -> tuple[Any, ...]:
    return (make_student(school=school).pk,)


def student_and_instrument(school: School) -> tuple[Any, ...]:
    return (*student_pk(school), *instrument_number(school))


def loan_pk(school: School) -> tuple[Any, ...]:
    return (make_loan(school=school).pk,)


def returned_pk(school: School) -> tuple[Any, ...]:
    """One that came back and waits to be inspected."""
    return (make_returned(school=school).pk,)


def inspected_pk(school: School) -> tuple[Any, ...]:
    return (make_returned_loan(school=school).pk,)


def paper_code(school: School) -> tuple[Any, ...]:
    return (make_paper(school=school).code,)


def link_pks(school: School) -> tuple[Any, ...]:
    link, _token = make_signing_link(school=school)
    return (link.loan_id, link.pk)


def link_token(school: School) -> tuple[Any, ...]:
    return (make_signing_link(school=school)[1],)


def loss_pk(school: School) -> tuple[Any, ...]:
    return (make_loss(make_loan(school=school)).pk,)


def sample_pk(school: School) -> tuple[Any, ...]:
    return (make_sample(school=school, count=3, tolerable=Decimal("0.9")).pk,)


def disposal_pk(school: School) -> tuple[Any, ...]:
    return (make_disposal(make_ready_instrument(school=school)).pk,)


def stolen_pk(school: School) -> tuple[Any, ...]:
    return (make_disposal(make_ready_instrument(school=school), way="stolen").pk,)


def given(school: School) -> tuple[Any, ...]:
    instrument = make_ready_instrument(school=school, acquired_by="gift")
    gift = {"donor_name": "A Friend", "received_on": TODAY, "actor": make_director(school), "at": NOW}
    record_donation(instrument=instrument, **gift)
    return (instrument.asset_number, "thanks")


def paper_pk(school: School) -> tuple[Any, ...]:
    return (make_paper_of(make_disposal(make_ready_instrument(school=school))).pk,)


def transfer_pk(school: School) -> tuple[Any, ...]:
    return (make_transfer(make_ready_instrument(school=school)).pk,)


def opening_token(school: School) -> tuple[Any, ...]:
    """A link that opens, while nobody administers the district."""
    return (make_opening_link(at=timezone.now()) or "used",)


def own_event(school: School) -> tuple[Any, ...]:
    """The number of an entry about an instrument of the school. What a tech may mark has a test of its own."""
    return (Event.objects.filter(thread=make_ready_instrument(school=school).thread).latest("number").number,)


def new_list(school: School) -> tuple[Any, ...]:
    return (make_judged(school=school, data=b"Instrument,Assigned to\nTpt,Ann Example\n").pk,)


def any_calendar(school: School) -> tuple[Any, ...]:
    return (1,)


def calendar_token(school: School) -> tuple[Any, ...]:
    return (make_calendar_link(school=school, actor=make_director(school), at=timezone.now()),)


ROWS = desk_counts.ROWS | {
    "api:api-root": Row(None),
    "api:openapi-json": Row(None),
    "api:schools": Row(None),
    "api:instruments": Row(None),
    "api:instrument": Row(None, make=instrument_number),
    "api:condition": Row(None),
    "api:jobs": Row(None),
    "api:loans": Row(None),
    "api:value": Row(None),
    "desk:today": Row("desk.view_today", own=False),
    "desk:begin": Row(None, make=opening_token),
    "desk:first-steps": Row("inventory.manage_settings", own=False),
    "desk:bench-day": Row("repairs.view_job", own=False),
    "desk:bench-day-sheet": Row("repairs.view_job", own=False),
    "desk:season-plan": Row("desk.plan_season", own=False),
    "desk:season-plan-pdf": Row("desk.plan_season", own=False),
    "desk:start-season": Row("desk.plan_season", method="post", own=False),
    "desk:season-started": Row("desk.plan_season", own=False),
    "desk:purchase-requests": Row("inventory.view_purchase", own=False),
    "desk:close-purchase": Row(
        "desk.plan_season", make=lambda school: (make_purchase_request(school=school).pk,), method="post"
    ),
    "desk:purchase-request": Row(
        "inventory.view_purchase", make=lambda school: (make_purchase_request(school=school).pk,)
    ),
    "desk:calendars": Row("any", own=False),
    "desk:guide": Row("any", own=False),
    "desk:guide-pdf": Row("any", own=False),
    "desk:guide-page": Row("any", make=lambda _school: ("inspect",), own=False),
    "desk:revoke-calendar": Row("any", make=any_calendar, method="post", own=False),
    "desk:calendar": Row(None, make=calendar_token),
    "desk:reported": Row("inventory.handle_report", make=report_pk),
    "desk:picked-clean": Row("inventory.clean_instrument", own=False),
    "desk:picked-move": Row("inventory.change_instrument", own=False),
    "desk:picked-bench": Row("repairs.open_job", own=False),
    "desk:picked-care": Row("repairs.record_care", own=False),
    "desk:picked-links": Row("loans.lend_instrument", own=False),
    "desk:picked-due": Row("loans.lend_instrument", own=False),
    "desk:scan": Row("desk.scan", own=False),
    "desk:find": Row("desk.scan", own=False),
    "desk:offline": Row("desk.scan", own=False),
    "desk:search": Row("desk.search", own=False),
    "desk:instrument": Row("desk.view_instrument", make=instrument_number),
    "desk:listed": Row("desk.lend", make=new_list),
    "desk:merge": Row("inventory.change_instrument", make=instrument_number),
    "desk:unmerge": Row("inventory.change_instrument", make=instrument_number, method="post"),
    "desk:history": Row("inventory.view_events", make=instrument_number),
    "desk:log": Row("desk.view_log", own=False),
    "desk:log-export": Row("desk.view_log", make=lambda _school: ("csv",), own=False),
    "desk:check-log": Row("desk.view_log", own=False),
    "desk:archives": Row("desk.view_log", own=False),
    "desk:archive": Row("desk.view_log", make=lambda _school: (1,), own=False),
    "desk:exceptions": Row("desk.view_log", own=False),
    "desk:exception": Row("desk.view_log", make=lambda _school: ("no-tag",), own=False),
    "desk:exceptions-export": Row("desk.view_log", make=lambda _school: ("csv",), own=False),
    "desk:log-entry": Row("inventory.view_events", make=own_event),
    "desk:entered-in-error": Row("desk.strike_event", make=own_event),
    "desk:lend": Row("desk.lend", own=False),
    "desk:hand-out": Row("desk.lend", own=False),
    "desk:hand-out-to": Row("desk.lend", make=student_pk),
    "desk:hand-out-walk": Row("desk.lend", make=student_and_instrument, method="post"),
    "desk:hand-out-undo": Row("desk.lend", make=loan_pk, method="post"),
    "desk:hand-out-board": Row("loans.view_need", own=False),
    "desk:hand-out-left": Row("desk.lend", own=False),
    "desk:hand-out-papers": Row("desk.lend", own=False, method="post"),
    "desk:lend-this": Row("desk.lend", make=instrument_number),
    "desk:lend-walk": Row("desk.lend", make=instrument_number, method="post"),
    "desk:print-to-sign": Row("loans.lend_instrument", own=False),
    "desk:papers-in": Row("loans.lend_instrument", own=False),
    "desk:paper": Row("loans.lend_instrument", make=paper_code),
    "desk:value": Row("desk.view_value", own=False),
    "desk:value-year": Row("desk.view_value", own=False),
    "desk:value-export": Row("desk.view_value", make=lambda _school: ("schools", "csv"), own=False),
    "desk:replacement": Row("desk.view_value", own=False),
    "desk:replacement-export": Row("desk.view_value", make=lambda _school: ("years", "csv"), own=False),
    "desk:condition": Row("desk.view_value", own=False),
    "desk:condition-pdf": Row("desk.view_value", own=False),
    "desk:condition-export": Row("desk.view_value", make=lambda _school: ("kinds", "csv"), own=False),
    "desk:samples": Row("inventory.view_sample", own=False),
    "desk:new-sample": Row("inventory.draw_sample", own=False),
    "desk:sample": Row("inventory.view_sample", make=sample_pk),
    "desk:close-sample": Row("inventory.examine_sample", make=sample_pk, method="post"),
    "desk:sample-paper": Row("inventory.view_sample", make=sample_pk),
    "desk:sample-frame": Row("inventory.view_sample", make=sample_pk),
    "desk:sample-export": Row("inventory.view_sample", make=lambda school: (*sample_pk(school), "csv")),
    "desk:sample-item": Row("inventory.examine_sample", make=lambda school: (*sample_pk(school), 1)),
    "desk:out": Row("inventory.view_instrument", own=False),
    "desk:out-export": Row("desk.view_value", make=lambda _school: ("csv",), own=False),
    "desk:disposal": Row("inventory.view_instrument", make=disposal_pk),
    "desk:change-disposal": Row("inventory.dispose", make=disposal_pk),
    "desk:bring-back": Row("inventory.dispose", make=disposal_pk),
    "desk:add-paper": Row("inventory.dispose", make=disposal_pk),
    "desk:withdraw-paper": Row("inventory.dispose", make=paper_pk),
    "desk:paper-file": Row("inventory.view_paper", make=paper_pk),
    "desk:leave": Row("inventory.dispose", make=instrument_number),
    "desk:transfers": Row("inventory.transfer_instrument", own=False),
    "desk:transfer": Row("inventory.transfer_instrument", make=transfer_pk),
    "desk:offer": Row("inventory.transfer_instrument", make=instrument_number),
    "desk:correct-kind": Row("inventory.change_instrument", make=instrument_number),
    "desk:loss-report": Row("inventory.view_paper", make=stolen_pk),
    "desk:property": Row("desk.view_value", own=False),
    "desk:property-export": Row("desk.view_value", make=lambda _school: ("csv",), own=False),
    "desk:maintenance": Row("inventory.view_instrument", make=instrument_number),
    "desk:gift-letter": Row("inventory.view_donor", make=given),
    "desk:losses": Row("loans.view_loss", own=False),
    "desk:loss": Row("loans.view_loss", make=loan_pk),
    "desk:end-loss": Row("loans.change_loss", make=loss_pk),
    "desk:charge-loss": Row("loans.change_ledger", make=loss_pk),
    "desk:claim-file": Row("loans.view_loss", make=loss_pk),
    "desk:send-link": Row("loans.lend_instrument", make=loan_pk),
    "desk:send-links": Row("loans.lend_instrument", own=False, method="post"),
    "desk:revoke-link": Row("loans.lend_instrument", make=link_pks, method="post"),
    "desk:sign-by-link": Row(None, make=link_token),
    "desk:sign": Row("loans.lend_instrument", make=loan_pk),
    "desk:fit": Row("loans.lend_instrument", make=instrument_number),
    "desk:suits": Row("loans.lend_instrument", make=student_pk),
    "desk:swap": Row("desk.lend", make=instrument_number),
    "desk:evidence": Row("loans.view_ledger", make=inspected_pk),
    "desk:evidence-pdf": Row("loans.view_ledger", make=lambda school: (*inspected_pk(school), "en")),
    "desk:charge": Row("loans.change_ledger", make=inspected_pk),
    "desk:take-back": Row("desk.take_back", make=instrument_number),
    "desk:take-back-walk": Row("desk.take_back", make=instrument_number, method="post"),
    "desk:give-back": Row("desk.take_back", own=False),
    "desk:expected-back": Row("desk.take_back", own=False),
    "desk:missing-letters": Row("desk.take_back", method="post", own=False),
    "desk:undo-return": Row("desk.take_back", make=returned_pk, method="post"),
    "desk:missing-back": Row("desk.take_back", make=returned_pk, method="post"),
    "desk:to-inspect": Row("inventory.inspect_instrument", own=False),
    "desk:same-back": Row("inventory.inspect_instrument", make=returned_pk, method="post"),
    "desk:tag": Row(None, make=tag_token),
    "desk:report": Row(None, make=tag_token),
}
