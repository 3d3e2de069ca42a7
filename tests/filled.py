"""A small district with rows of every sort that events speak of, most through services."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from core.models import User
from core.photos import clean_photo, clean_scan
from inventory.models import ProblemReport, Role, School, StaffRole
from inventory.rules.facts import Owed
from inventory.selectors.charts import chart_digest, known_charts
from inventory.services.calendars import make_calendar_link
from inventory.services.care import answer_report, keep_photo, record_cleaning, record_play_test, report_problem
from inventory.services.changing_kind import correct_kind
from inventory.services.charts import confirm_chart, withdraw_chart
from inventory.services.counts import undo_sighting
from inventory.services.disposing import bring_back, correct_disposal, keep_paper, withdraw_paper
from inventory.services.figures import set_figures
from inventory.services.importing import drop_import, publish_import
from inventory.services.inspecting import drop_inspection, start_inspection
from inventory.services.integrations import note_reading
from inventory.services.people import (
    add_person,
    add_room,
    add_school,
    give_role,
    remove_role,
    set_active,
    set_up_district,
)
from inventory.services.registering import issue_tag, note_lock, record_donation, revoke_tag
from inventory.services.samples import finish, stop
from inventory.services.transferring import settle_transfer
from loans.rules.roster import ZipSource, check_roster, read_people
from loans.services import (
    SchoolRoster,
    add_student,
    correct_accessories_back,
    erase_student,
    file_agreement_pdf,
    import_rosters,
    lock_assignment,
    note_student_left,
    return_loan,
    share_instrument,
    undo_grade_roll,
    undo_return,
)
from loans.services.holds import set_hold
from loans.services.ledger import enter_in_ledger
from loans.services.losses import change_loss, end_loss
from loans.services.notices import make_reminders
from loans.services.signing_links import open_link, revoke_link
from loans.services.students import NewGuardian
from loans.services.to_sign import print_papers
from repairs.selectors.orders import latest_to_undo, order_events
from repairs.services.benches import retire_bench, set_up_bench
from repairs.services.budgets import add_budget, change_budget
from repairs.services.care import withdraw_care
from repairs.services.jobs import give_up_job
from repairs.services.orders import approve_order, call_off, take_back
from repairs.services.stock import count_stock, receive_stock, retire_stock_item
from repairs.services.taken_parts import part_does_not_fit, part_fits
from repairs.services.worth import settle_decision
from tests.factories import NOW, TODAY, make_director, make_instrument, make_ready_instrument, new_nonce
from tests.inventory.count_makers import make_count
from tests.inventory.leaving_makers import make_disposal, make_transfer
from tests.inventory.makers import make_integration_row
from tests.inventory.purchase_makers import make_purchase_request
from tests.inventory.sample_makers import examine_all, make_sample
from tests.inventory.services.importing.makers import make_judged
from tests.loans.makers import (
    all_counts,
    make_addendum,
    make_agreement,
    make_assignment,
    make_ensemble,
    make_grade_roll,
    make_loan,
    make_loss,
    make_period,
    make_return_walk,
    make_returned,
    make_seat,
    make_shared_use,
    make_signing_link,
)
from tests.opening import open_made
from tests.pictures import jpeg
from tests.repairs import makers, money_makers
from tests.repairs.care_makers import make_care
from tests.rosters import files_of, school_rows, zip_of

LATER = NOW + timedelta(days=3)


def _turn_of_the_year(school: School, director: User) -> None:
    undo_grade_roll(roll=make_grade_roll(school=school, actor=director, left_on=TODAY), actor=director, at=LATER)
    make_grade_roll(school=school, actor=director, steps={"6": ""}, at=LATER)
    use = make_shared_use(school=school, actor=director)
    share_instrument(instrument=use.instrument, seats={use.period_id: None}, actor=director, at=LATER)


def fill_district() -> None:
    set_up_district(actor=None, at=NOW, name="Test District", asset_prefix="TD-", asset_digits=4)
    admin = add_person(
        username="admin", name="Adi", actor=None, at=NOW, first_role={"role": Role.ADMINISTRATOR, "school": None}
    )
    set_figures(values={"bench_rate_amount": "31"}, effective_on=TODAY, actor=admin, at=NOW)
    school = add_school(code="ELM", name="Elm Street Middle", actor=admin, at=NOW)
    room = add_room(school=school, name="Band room", actor=admin, at=NOW)
    director = add_person(
        username="dana", name="Dana", actor=admin, at=NOW, first_role={"role": Role.DIRECTOR, "school": school}
    )
    tech = add_person(
        username="terry", name="Terry", actor=admin, at=NOW, first_role={"role": Role.TECH, "school": None}
    )
    give_role(user=director, role=Role.TECH, school=school, actor=admin, at=NOW)
    remove_role(held=StaffRole.objects.get(user=director, role=Role.TECH), actor=admin, at=NOW)
    set_active(user=add_person(username="gone", name="G", actor=admin, at=NOW), is_active=False, actor=admin, at=NOW)
    _fill_charts(tech=tech)

    ready = make_ready_instrument(school=school, room=room, actor=director)
    issue_tag(instrument=ready, actor=director, at=LATER)
    revoke_tag(tag=issue_tag(instrument=ready, accessory=ready.accessories.first(), actor=director, at=NOW), actor=tech,
               at=LATER, because="lost")  # fmt: skip
    keep_photo(instrument=ready, photo=clean_photo(jpeg()), actor=tech, at=NOW)
    record_donation(instrument=ready, donor_name="A Friend", received_on=TODAY, actor=director, at=NOW)
    record_play_test(instrument=ready, result="pass", actor=tech, at=NOW)
    record_cleaning(instrument=ready, done=[Owed.FULL], product="soap", actor=tech, at=NOW)
    drop_inspection(
        inspection=start_inspection(instrument=ready, purpose="spot", actor=tech, at=NOW), actor=tech, at=LATER
    )
    start_inspection(instrument=ready, purpose="yearly", actor=tech, at=NOW)  # a draft has no event yet
    for text in ("A valve sticks.", "It rattles."):
        report_problem(instrument=ready, text=text, at=NOW)
    answer_report(report=ProblemReport.objects.earliest("pk"), actor=tech, at=LATER, answer="Oiled.")
    withdraw_care(care=make_care(instrument=ready, actor=tech), actor=tech, at=LATER)
    make_care(instrument=ready, actor=tech, at=LATER)

    make_seat(place=make_ensemble(school=school), kind_code="trumpet")
    make_seat(place=make_period(school=school), kind_code="tuba", size="3/4")
    lock_assignment(assignment=make_assignment(school=school), seen=1, replaces=None, actor=director, at=NOW)
    student = add_student(school=school, name="Robin Reed", grade="6", actor=director, at=NOW)
    back = make_loan(instrument=make_ready_instrument(school=school, actor=director), student=student, actor=director)
    paper = make_agreement(back)
    file_agreement_pdf(agreement=paper, data=b"%PDF-1.7 signed", actor=director, at=NOW)
    return_loan(loan=back, taken_back=make_return_walk(back, at=LATER), accessories_back=all_counts(back.instrument),
                actor=director, at=LATER)  # fmt: skip
    _fill_give_back(school=school, director=director)
    note_student_left(student=student, left_on=TODAY, actor=director, at=LATER)
    _turn_of_the_year(school, director)
    out = add_student(school=school, name="Max Muster", grade="7", actor=director, at=NOW,
                      guardians=[NewGuardian(name="Mia Muster", email="mia@home.example")])  # fmt: skip
    make_loan(instrument=make_ready_instrument(school=school, actor=director), student=out, actor=director)
    erase_student(student=add_student(school=school, name="Gone", grade="8", actor=director, at=NOW), actor=director,
                  at=LATER)  # fmt: skip

    for missing in ("", "s-1"):
        rows = school_rows()
        rows["enrollments"] = [one for one in rows["enrollments"] if one["userSourcedId"] != missing]
        source = ZipSource(zip_of(files_of(rows)))
        told = read_people(source, check_roster(source), courses=["band"], today=TODAY)
        import_rosters(rosters=[SchoolRoster(school, told, courses={"band": "Band"})], actor=director, at=NOW)

    _fill_year(student=out, instrument=ready, director=director, admin=admin)
    listed = b"Instrument,Make,Room,Donor,Condition\nTpt,A,Rm 12,A Giver,2nd valve sticks\nFlute,B,Rm 12,,\n"
    publish_import(batch=make_judged(school=school, data=listed), actor=admin, at=NOW, today=TODAY)
    drop_import(batch=make_judged(school=school, data=b"Instrument\nTuba\n"), actor=admin, at=LATER)

    _fill_bench(school=school, director=director, tech=tech)
    open_made()
    add_student(school=school, name="Last Act", grade="6", actor=director, at=LATER)


def _fill_leaving(*, school: School, director: User, admin: User) -> None:
    """Sold with a paper, entered in error and taken back, offered and agreed, and one of another kind."""
    sold = make_disposal(make_instrument(school=school), actor=director, approved_by=admin)
    correct_disposal(disposal=sold, recipient="A pawn shop", actor=director, at=LATER)
    keep_paper(instrument=sold.instrument, title="Bill of sale", scan=clean_scan(jpeg()), disposal=sold, actor=director,
               at=NOW)  # fmt: skip
    wrong = keep_paper(instrument=sold.instrument, title="Invoice", scan=clean_scan(jpeg(size=(9, 9))), disposal=sold,
                       actor=director, at=NOW)  # fmt: skip
    withdraw_paper(paper=wrong, because="Of another horn.", actor=director, at=LATER)
    error = make_disposal(make_instrument(school=school), way="error", actor=director, approved_by=admin)
    bring_back(disposal=error, because="It is one.", was_wrong=True, actor=director, at=LATER)
    for is_agreed in (True, False):
        offered = make_transfer(make_instrument(school=school), actor=director)
        settle_transfer(transfer=offered, is_agreed=is_agreed, actor=admin, at=LATER)
    correct_kind(instrument=make_instrument(school=school), kind_code="flute", actor=director, at=LATER)


def _fill_samples(*, school: School) -> None:
    done, stopped = (make_sample(school=school, count=0, seed=seed) for seed in ("a", "b"))
    examine_all(done, result="deviates", note="In another room")
    finish(sample=done, actor=done.drawn_by, at=LATER)
    stop(sample=stopped, because="plan", actor=done.drawn_by, at=LATER)


def _fill_counts(*, school: School) -> None:
    make_count(school=school, is_signed=True)
    count = make_count(school=school)
    undo_sighting(sighting=count.sightings.latest("pk"), actor=count.opened_by, at=LATER)


def _fill_give_back(*, school, director) -> None:
    slip = make_returned(school=school, actor=director, at=LATER)
    undo_return(loan=slip, actor=director, at=LATER)
    pile = make_returned(school=school, actor=director, at=LATER)
    correct_accessories_back(loan=pile, accessories_back={}, actor=director, at=LATER)
    make_return_walk(pile, at=LATER + timedelta(hours=1))


def _fill_charts(*, tech) -> None:
    chart = next(code for code, one in known_charts().items() if not one.verified)
    confirm_chart(code=chart, digest=chart_digest(chart), actor=tech, on=TODAY, at=NOW)
    withdraw_chart(code=chart, actor=tech, at=NOW)
    confirm_chart(code=chart, digest=chart_digest(chart), actor=tech, on=TODAY, at=LATER)


def _fill_year(*, student, instrument, director, admin) -> None:
    print_papers(students=[student], actor=director, at=NOW)
    make_addendum(make_agreement(make_loan(student=student, actor=director, school=student.school)).loan)
    make_reminders(today=TODAY + timedelta(days=7), actor=None, at=LATER)
    loan = student.loans.filter(returned_at=None, undone_at=None, agreement=None).earliest("pk")
    link, _token = make_signing_link(loan, actor=director, at=NOW)
    open_link(link=link, actor=None, at=NOW)
    loss = make_loss(loan, actor=director)
    change_loss(loss=loss, steps={"search": TODAY}, typed={"insurer": "The pool"}, actor=director, at=LATER)
    end_loss(loss=loss, outcome="given_up", actor=director, at=LATER)
    revoke_link(link=link, actor=director, at=LATER)
    enter_in_ledger(
        student=student, sort="fee", amount=Decimal(35), on=TODAY, actor=director, at=NOW, nonce=new_nonce()
    )
    set_hold(student=student, reason="A claim is open", ends_on=TODAY + timedelta(days=90), actor=admin, at=NOW)
    for _ in range(2):  # the second ends the first
        make_calendar_link(school=instrument.school, actor=director, at=NOW)
        program = make_integration_row(actor=admin)
    note_reading(integration=program, at=LATER)
    note_lock(instrument=instrument, combination="12-34-56", actor=director, at=NOW)


def _fill_bench(*, school, director, tech) -> None:
    columns = {"name": "Bench", "has_torch": False, "has_chemicals": True, "rate_amount": Decimal(30)}
    bench = set_up_bench(code="elm", school=school, tools=[], methods=[], actor=director, at=NOW, **columns)
    spare = set_up_bench(code="spare", school=school, tools=[], methods=[], actor=director, at=NOW, **columns)
    retire_bench(bench=spare, actor=director, at=LATER)
    job = makers.make_job(school=school, actor=tech)
    makers.do_next(job)
    give_up_job(job=job, because="Too expensive", actor=tech, at=LATER)
    makers.make_job(school=school, actor=tech)
    budget = add_budget(
        school=school, fund="Band fund", begins_on=TODAY, ends_on=TODAY + timedelta(days=300), amount=Decimal(500),
        actor=director, at=NOW,
    )  # fmt: skip
    change_budget(budget=budget, fund="Band fund", begins_on=TODAY, ends_on=TODAY + timedelta(days=200),
                  amount=Decimal(600), actor=director, at=LATER)  # fmt: skip
    item = money_makers.make_item(bench=bench, actor=tech)
    receive_stock(
        item=item, quantity=Decimal(5), amount=Decimal(20), budget=budget, nonce=new_nonce(), actor=tech, at=NOW
    )
    count_stock(item=item, quantity=Decimal(3), nonce=new_nonce(), actor=tech, at=LATER)
    empty = money_makers.make_item(bench=bench, actor=tech, code="slide_grease")
    retire_stock_item(item=empty, actor=tech, at=LATER)
    money_makers.make_returned_order(amount=70)
    costly = money_makers.estimated(money_makers.make_order(), 200)
    approve_order(order=costly, amount=Decimal(200), actor=make_director(costly.instrument.school), at=LATER)
    call_off(order=money_makers.make_order(), because="Found it", actor=tech, at=LATER)
    slip = money_makers.estimated(money_makers.make_order(), 50)
    take_back(
        order=slip, number=latest_to_undo(order_events(slip)).number, because="Typed wrong", nonce=new_nonce(),
        actor=make_director(slip.instrument.school), at=LATER,
    )  # fmt: skip
    decision = money_makers.make_decision(cost=180.0)
    settle_decision(decision=decision, is_approved=True, actor=make_director(decision.instrument.school), at=LATER)
    donor = money_makers.make_parts_instrument()
    part_fits(taken=money_makers.make_taken(donor)[0], actor=donor.marked_by, at=LATER)
    pistons = money_makers.make_taken(donor, "piston", is_set=True)
    part_does_not_fit(taken=pistons[0], goes="back", actor=donor.marked_by, at=LATER, nonce=new_nonce())
    make_instrument(school=school, actor=director)
    make_purchase_request(school=school, actor=director)
    _fill_samples(school=school)
    _fill_counts(school=school)
    _fill_leaving(school=school, director=director, admin=User.objects.get(username="admin"))
