"""No page without a way in: from Today, each role finds every address that it may use by links and forms alone.

What a role may use is what the permission matrix says. A new page that a walk does not find needs a link where
somebody looks for it, or, where it is for a state that no row here is in, such a row.
"""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Collection
from datetime import timedelta
from decimal import Decimal
from html.parser import HTMLParser
from itertools import count
from urllib.parse import urljoin, urlsplit

import pytest
from django.test import Client
from django.urls import resolve, reverse
from django.utils import timezone

from core.models import User
from desk.services.merging import merge_records
from inventory.models import Acquired, Purpose, Role, School, Tag, Whereabouts
from inventory.selectors.charts import chart_digest, chart_lines
from inventory.services.calendars import make_calendar_link
from inventory.services.care import record_play_test
from inventory.services.charts import confirm_chart
from inventory.services.importing import choose_columns, publish_import
from inventory.services.state import move_instrument
from loans.services import file_agreement_pdf, lock_assignment
from loans.services.notices import note_came_back, note_printed
from repairs.models import ShopOrder
from repairs.services.benches import retire_bench
from repairs.services.care import record_care
from repairs.services.orders import approve_order, note_estimate
from repairs.services.stock import retire_stock_item
from repairs.services.worth import settle_decision
from tests.factories import (
    NOW,
    TODAY,
    make_bench,
    make_director,
    make_inspection,
    make_instrument,
    make_ready_instrument,
    make_school,
    make_user,
)
from tests.inventory.count_makers import make_count
from tests.inventory.makers import make_integration_row
from tests.inventory.services.importing.makers import choices_for, make_batch, make_judged, make_received
from tests.loans.makers import (
    make_agreement,
    make_assignment,
    make_ensemble,
    make_entry,
    make_grade_roll,
    make_hold,
    make_letter,
    make_loan,
    make_loss,
    make_returned,
    make_returned_loan,
    make_seat,
    make_signing_link,
)
from tests.permission_matrix import all_rows, holders_of
from tests.repairs.makers import LEAKING_CORK, do_next, make_job
from tests.repairs.money_makers import (
    make_budget,
    make_decision,
    make_item,
    make_order,
    make_returned_order,
    make_sent_order,
    make_stuck_instrument,
)

pytestmark = pytest.mark.sqlite  # links are the same on both databases, and the walk takes a minute
ROWS = all_rows()
FOR_PHONES = {"inventory:walk-like", "inventory:play-test-like"}  # a phone puts the key of a walk in where they say 0
PAPERS = (".pdf", ".csv", ".xlsx", ".jpg")  # found, but not opened: nothing leads on from them
MOST = 60  # addresses opened of one pattern
# Pages that lead on by the state their row is in: so many are opened for one of another pattern.
MANY = {"desk:instrument": 30, "inventory:inspect": MOST} | dict.fromkeys(
    (
        "inventory:chart",
        "inventory:figure",
        "inventory:import-batch",
        "desk:merge",
        "loans:account",
        "loans:loan",
        "loans:notices",
        "loans:student",
        "repairs:bench",
        "repairs:bench-stock",
        "repairs:order",
        "repairs:stock-item",
    ),
    30,
)

# Name -> why nothing on a screen of the staff leads there.
BY_ITSELF = dict.fromkeys((name for name in ROWS if name.startswith("api:")), "another program asks for it") | {
    "core:favicon": "the browser asks for it",
    "core:service-worker": "the browser asks for it, told by a script",
    "core:manifest": "the browser asks for it",
    "core:no-signal": "the service worker shows it when nothing is kept",
    "core:work-line": "asked for by the head of a page while something is in progress",
    "core:work-one": "where long work leads whoever begins it",
    "core:work-file": "on the page of long work that made a file",
    "core:work-again": "on the page of long work that was not done",
    "core:health": "what watches the server asks for it",
    "core:forgotten": "a link of the log-in",
    "desk:hand-out-papers": "offered on the day that something went out",
    "desk:picked-links": "offered beside selected loans where mail is set up",
    "desk:hand-out-undo": "offered at the station for a minute",
    "core:link": "handed over or mailed",
    "core:remove-step": "on one's own page once there is a second step",
    "core:recovery-codes": "on one's own page once there is a second step",
    "core:add-passkey": "offered where the address has a name and https",
    "core:second-step": "where the log-in leads whoever has one",
    "core:sign-on": "a link of the log-in and of one's own page where sign-on is set up",
    "core:link-sign-on": "where sign-on leads while the account is linked to nobody",
    "core:unlink-sign-on": "on one's own page once an account is linked",
    "inventory:reset-step": "on a person's page once they have a second step",
    "inventory:unlink-sign-on": "on a person's page once an account is linked",
    "core:log-in": "where whoever is logged out is sent",
    "desk:season-started": "where starting a season plan leads",
    "desk:count-open": "on the page of counts while none is under way",
    "desk:count-settle": "where a count leads once counting has ended",
    "desk:archive": "on the page of archives once one was made",
    "desk:transfer": "on the list of offers, where there is another school",
    "desk:paper": "the code on the paper",
    "desk:calendar": "a calendar program asks for it",
    "desk:sign-by-link": "the letter, or the code on the paper",
    "desk:missing-letters": "offered once the day is past that all was due",
    "loans:roster-columns": "where a list leads that was sent as a roster",
    "loans:roster-courses": "where a roster leads that was sent",
    "loans:roster-changes": "where the choice of courses leads",
    "loans:give-up-roster": "on the pages of a roster that was sent",
    "desk:begin": "the link printed where the server was started",
    "desk:tag": "the code on the instrument; whoever is logged in goes on to the instrument's own page",
    "desk:report": "a page of whoever found the instrument",
}

FROM_THE_MATRIX = (
    "desk:gift-letter",
    "desk:loss-report",
    "desk:purchase-request",
    "desk:paper-file",
    "inventory:answer-report",
    "inventory:call-off-figure",
    "inventory:import-problems",
    "inventory:photo",
    "inventory:play-test-result",
    "loans:addendum",
    "loans:assignment-line",
    "loans:ensemble",
    "loans:period",
    "loans:scan",
    "desk:sample",
    "repairs:note-fit",
    "repairs:order",
    "repairs:stock-item",
)


class Ways(HTMLParser):
    """Every address that a page offers: by link, form, picture or part that loads by itself."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.page = page
        self.opens: list[str] = []
        self.posts: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            sends = given.get("method", "get").lower() == "post"
            self.add(self.posts if sends else self.opens, given.get("action", ""))
        for name, ways in (("href", self.opens), ("src", self.opens), ("hx-get", self.opens),
                           ("hx-post", self.posts), ("formaction", self.posts)):  # fmt: skip
            if name in given and tag not in {"link", "script", "use"}:
                self.add(ways, given[name])

    def add(self, ways: list[str], address: str) -> None:
        whole = urljoin(self.page, address).partition("#")[0]
        if not urlsplit(whole).scheme and not urlsplit(whole).netloc and not whole.startswith("/static/"):
            ways.append(whole)


def pattern_of(address: str) -> str:
    return resolve(urlsplit(address).path).view_name


def walk(client: Client, start: str, *, wanted: Collection[str]) -> tuple[dict[str, str], list[str]]:
    """Follow the ways from a page until every wanted pattern is found, first those of which few were opened.

    Return the patterns found, each with the page that leads there, and the ways that lead nowhere.
    """
    found: dict[str, str] = {}
    broken: list[str] = []
    seen: Counter[str] = Counter()
    known: set[str] = set()
    order = count()
    todo: list[tuple[int, int, str, str]] = []

    def note(address: str, page: str) -> None:
        name = pattern_of(address)
        found.setdefault(name, page)
        is_paper = urlsplit(address).path.endswith(PAPERS) or "file=" in urlsplit(address).query
        if address not in known and seen[name] < MOST and not is_paper and name not in FOR_PHONES:
            known.add(address)
            seen[name] += 1
            heapq.heappush(todo, (seen[name] // MANY.get(name, 1), next(order), address, page))

    note(start, "")
    while todo and not wanted <= found.keys():
        _, _, address, page = heapq.heappop(todo)
        answer = client.get(address)
        if answer.status_code >= 400:
            broken.append(f"{page} leads to {address}: {answer.status_code}")
        elif answer.status_code == 302:
            note(answer.headers["Location"], page)
        elif answer.headers["Content-Type"].startswith("text/html"):
            ways = Ways(address)
            ways.feed(answer.text)
            for way in ways.opens:
                note(way, address)
            for way in ways.posts:
                found.setdefault(pattern_of(way), address)
    return found, broken


def add_states_of_instruments(school: School, tech: User) -> None:
    draft = make_ready_instrument(school=school)
    make_inspection(instrument=draft, purpose=Purpose.SPOT, findings=[LEAKING_CORK], actor=tech, finish=False)
    make_instrument(school=school, acquired_by=Acquired.GIFT)
    lost = make_ready_instrument(school=school)
    places = {"expected": Whereabouts.IN_STORE, "to": Whereabouts.NOT_FOUND}
    move_instrument(instrument=lost, **places, actor=tech, at=NOW)
    code = next(line.chart.code for line in chart_lines() if line.is_open)
    confirm_chart(code=code, digest=chart_digest(code), on=TODAY, actor=tech, at=NOW)
    loan = make_loan(school=school)
    file_agreement_pdf(agreement=make_agreement(loan), data=b"%PDF-", actor=loan.actor, at=NOW)
    make_returned(school=school)  # on the pile
    make_count(school=school, is_signed=True)
    make_count(school=school)
    make_grade_roll(school=school, at=timezone.now(), left_on=timezone.localdate())
    back = make_returned_loan([("bell_bow", "dent_small", "severe")], school=school)
    make_entry(student=back.student, sort="damage", loan=back, actor=loan.actor)
    make_entry(student=back.student, sort="payment", amount=5, actor=loan.actor)
    make_loss(make_loan(school=school))
    letters = [make_letter(make_loan(school=school)) for _ in range(2)]
    note_printed(notices=letters, actor=loan.actor, at=NOW)
    note_came_back(notice=letters[0], actor=loan.actor, at=NOW)
    make_letter(make_loan(school=school))
    make_hold(student=make_signing_link(school=school)[0].loan.student)  # to be signed
    twice = [make_ready_instrument(school=school) for _ in range(2)]
    merge_records(kept=twice[0], away=twice[1], actor=tech, at=NOW)
    locked = make_assignment(school=school)
    lock_assignment(assignment=locked, seen=1, replaces=None, actor=loan.actor, at=NOW)


def add_states_of_lists(school: School) -> None:
    make_received(school=school)
    waiting = make_batch(school=school, data=b"Instrument,Serial\nTpt,4\n")
    choose_columns(batch=waiting, choices=choices_for(waiting), actor=waiting.actor, at=NOW)
    make_judged(school=school, data=b"Instrument,Serial\nSax,7\n")  # which one is asked
    published = make_judged(school=school, data=b"Instrument,Serial\nTpt,5\nNothing known,6\n")
    publish_import(batch=published, actor=published.actor, at=NOW, today=TODAY)


def add_states_of_work(school: School, tech: User) -> None:
    do_next(make_job(school=school), "still_stuck")
    make_job(school=school, kind_code="oboe", findings=[("body", "body_crack", "moderate")])  # for a shop
    make_instrument(school=school, at=timezone.now() - timedelta(days=3 * 365))  # all its care is due
    cared = make_ready_instrument(school=school)
    record_care(instrument=cared, code="piston_oil", done_on=timezone.localdate(), actor=tech, at=timezone.now())
    make_decision(make_ready_instrument(school=school), "retire", because="Nobody plays it", actor=tech)
    order = make_order(instrument=make_stuck_instrument(school=school))
    note_estimate(order=order, amount=Decimal(900), on=TODAY, actor=tech, at=NOW)
    approved = make_order(instrument=make_stuck_instrument(school=school))
    approve_order(order=approved, amount=Decimal(90), actor=make_director(school), at=NOW)
    make_sent_order(instrument=make_stuck_instrument(school=school))
    trip = make_sent_order(instrument=make_stuck_instrument(school=school), is_estimate_only=True)
    note_estimate(order=trip, amount=Decimal(90), on=TODAY, actor=tech, at=NOW)
    make_budget(school)
    back = make_returned_order(instrument=make_stuck_instrument(school=school))
    ShopOrder.objects.filter(pk=back.pk).update(warranty_until=None)  # it fails, so it may go back all the same
    record_play_test(instrument=back.instrument, result="fail", note="It whistles.", actor=tech, at=timezone.now())


def add_states_of_stock(school: School, tech: User) -> None:
    item = make_item(bench=make_bench(school=school), quantity="2")
    retire_stock_item(item=make_item(bench=item.bench, code="pad"), actor=tech, at=NOW)
    retire_bench(bench=make_bench(school=school), actor=tech, at=NOW)


def add_state_of_season(school: School) -> None:
    """A repair that the season plan begins, and one seat more, for which it buys."""
    wanted = make_instrument(school=school, kind_code="cornet")
    make_inspection(instrument=wanted, findings=[("third_valve_slide", "slide_seized", "severe")])
    ensemble = make_ensemble(school=school)
    for _ in range(2):
        make_seat(place=ensemble, kind_code="cornet")


@pytest.fixture(scope="module")
def district(shared_rows: None) -> School:
    """What the matrix makes for some of its pages, and rows in the states that other pages are for."""
    school = make_school(code="ELM", name="Elm Street Middle")
    tech = make_user(Role.TECH, school=school)
    add_states_of_instruments(school, tech)
    add_states_of_lists(school)
    add_states_of_work(school, tech)
    add_states_of_stock(school, tech)
    for name in FROM_THE_MATRIX:
        ROWS[name].make(school)
    add_state_of_season(school)
    return school


def ask_and_be_refused(school: School, user: User) -> None:
    decision = make_decision(make_ready_instrument(school=school), "retire", because="Old", actor=user)
    settle_decision(decision=decision, is_approved=False, note="Needed", actor=make_user(Role.ADMINISTRATOR), at=NOW)


@pytest.mark.django_db
@pytest.mark.parametrize(
    "role", [role if role == Role.DIRECTOR else pytest.param(role, marks=pytest.mark.drill) for role in Role.values]
)
def test_a_role_finds_every_address_it_may_use(role, client, district):
    user = make_user(role, school=district)
    if role in {Role.DIRECTOR, Role.TECH}:
        ask_and_be_refused(district, user)
    if role == Role.DIRECTOR:
        make_returned(school=district, actor=user, at=timezone.now())
    make_calendar_link(school=district, actor=user, at=NOW)
    make_integration_row(actor=user)
    client.force_login(user)
    may = {name for name, row in ROWS.items() if row.permission is None or role in holders_of(row.permission)}
    found, broken = walk(client, reverse("desk:today"), wanted=may - BY_ITSELF.keys())
    assert broken == []
    assert sorted(may - BY_ITSELF.keys() - found.keys()) == [], "give the page a link where somebody looks for it"
    assert {name: page for name, page in found.items() if name not in may} == {}, "do not offer what is refused"
    assert not BY_ITSELF.keys() & found.keys(), "take it out of BY_ITSELF"


@pytest.mark.django_db
def test_the_code_on_an_instrument_leads_whoever_found_it_on(client, district):
    tag = Tag.objects.live().filter(instrument__school=district).first()
    found, broken = walk(client, tag.address(home=""), wanted={"desk:report"})
    assert broken == []
    assert found["desk:report"] == tag.address(home="")
