"""A neglected trumpet, from the closet to a student's hands on a phone: hand and page both count its taps."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from inventory.models import Donation, Finding, Instrument
from loans.models import Agreement, Loan
from repairs.models import Attempt, Job, StepClock
from tests.factories import make_instrument, make_student
from tests.plugins.hand import Finger, Hand
from tests.repairs.makers import make_school_bench
from tests.repairs.money_makers import make_shop

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

INSPECTION_TAPS = 60
STEP_TAPS = 4
# part, fault, severity, places: twelve findings in the order of the walk
TWELVE: list[tuple[str, str, str, tuple[str, ...]]] = [
    ("mouthpiece", "missing_part", "severe", ()),
    ("leadpipe", "lime_scale", "light", ()),
    ("main_tuning_slide", "slide_seized", "severe", ()),
    ("tuning_slide_water_key", "water_key_leak", "moderate", ()),
    ("braces_and_finger_hooks", "solder_broken", "moderate", ("leadpipe_to_bell",)),
    ("third_valve_slide", "slide_seized", "light", ()),
    ("bottom_valve_cap", "cap_stuck", "moderate", ("1", "2", "3")),
    ("piston", "valve_stuck", "severe", ("2",)),
    ("second_valve_slide", "slide_seized", "severe", ()),
    ("bell_bow", "dent_small", "light", ()),
]
SOAKED_IN_VAIN = ("main tuning slide", "bottom valve caps, valve 1", "pistons, valve 2")  # by the end of the bath
STUCK_ONCE = (
    "free_valve_slide:third_valve_slide::hand",  # a pull by hand, tried twice
    "free_piston:piston:2:valve_oil",  # a soak
    "free_cap:bottom_valve_cap:1:taps",  # after the bath
)
# Counts in the page, where a screen is touched; a list that opens and a signature are not among its touches.
COUNTER = """addEventListener("pointerdown", (event) => {
    if (event.isTrusted && event.pointerType === "touch")
        localStorage.touches = 1 + Number(localStorage.touches || 0);
}, true);"""


def counted_by_the_page(page: Page) -> int:
    return int(page.evaluate("() => Number(localStorage.touches || 0)"))


@dataclass
class BenchHand(Finger):
    """A hand at the bench: it does step after step, and notes how many taps each took."""

    steps: list[tuple[str, int, int]] = field(default_factory=list)  # (step, taps, outcomes noted)
    tried: set[str] = field(default_factory=set)

    @property
    def bar(self) -> Locator:
        return self.page.locator(".answer-bar")

    def offers(self, what: str) -> bool:
        return self.bar.get_by_role("button", name=re.compile(what)).count() > 0

    def answer(self, what: str) -> None:
        self.go(self.bar.get_by_role("button", name=re.compile(what)))

    @property
    def step(self) -> str:
        """The key of the step shown large, or "" where only the play test is left."""
        at_hand = self.page.locator('#step input[name="step"]')
        return at_hand.get_attribute("value") or "" if at_hand.count() else ""

    def rest(self, job: Job) -> None:
        """Let it sit; when the time is over, come back to the job."""
        self.answer("^Let it sit")
        StepClock.objects.filter(job=job).exclude(waits_until=None).update(
            waits_until=timezone.now() - timedelta(minutes=1)
        )
        self.page.goto(reverse("repairs:job", args=[job.pk]))
        self.taps.append("open the job again")

    def work(self, job: Job, *, stuck_once: Iterable[str]) -> None:
        """Do what the page offers first, until only the play test is left; what is in ``stuck_once`` fails once."""
        stuck = set(stuck_once)
        while (step := self.step) and not self.bar.get_by_role("link", name="Test it").count():
            before, known = len(self.taps), Attempt.objects.filter(job=job).count()
            self.read()
            if self.bar.get_by_role("link", name="Go to the shop's order").count():
                self.go_to_the_shop()
            elif self.offers("^Let it sit"):
                self.rest(job)
                self.end(step, stuck)
            else:
                self.end(step, stuck)
            done = Attempt.objects.filter(job=job).count() - known
            self.steps.append((step, len(self.taps) - before, max(1, done)))
            assert len(self.steps) < 60, [one for one, _, _ in self.steps]

    def read(self) -> None:
        if self.offers("^I have read this"):
            self.answer("^I have read this")

    def end(self, step: str, stuck: set[str]) -> None:
        """Say how it came out, of every part that sat in a bath too."""
        for question in self.page.locator("fieldset", has_text="Came free").all():
            name = question.locator("legend").inner_text().strip().lower()
            self.tap(question.get_by_text("Still stuck" if name in SOAKED_IN_VAIN else "Came free"))
        for product in self.page.locator('label:has(input[name="product"][value="alcohol"])').all():
            self.tap(product)
        if step in stuck:
            stuck.discard(step)
            if self.offers("try 1 of 2$"):
                self.answer("try 1 of 2$")
            self.answer("next way$")
            self.tried.add(step)
        else:
            self.go(self.bar.locator('button[value="freed"], button[value="done"]'))

    def go_to_the_shop(self) -> None:
        self.go(self.bar.get_by_role("link", name="Go to the shop's order"))
        self.go("Write it and send it off")
        self.go(self.bar.get_by_role("link", name="It is back from the shop"))
        self.go("Mark as back")


@pytest.fixture
def room(transactional_db, school):
    """A school with a bench, a shop and students; another trumpet is what makes the kind one tap."""
    make_instrument(school=school)
    make_school_bench(school)
    make_shop()
    for number in range(7):
        make_student(school=school, name=f"Player {number}")
    make_student(school=school, name="Robin Reed", guardian_name="Gale Reed")
    return school


def registered(hand: Hand) -> Instrument:
    page = hand.page
    page.goto(reverse("inventory:list"))
    hand.go(page.get_by_role("link", name="Add one").first)
    hand.tap(page.locator("label.chip", has_text="Trumpet"))
    hand.type("482913", into=page.get_by_label("Serial"))
    hand.tap(page.locator("label.chip", has_text="Gift"))
    hand.go(page.get_by_role("button", name="Add", exact=True).last)
    hand.type("A Giver", into=page.get_by_label("Donor", exact=True))
    hand.go("Save record")
    page.get_by_text("Gift record saved.").wait_for()
    return Instrument.objects.get(serial="482913")


def inspected(hand: Finger) -> None:
    page = hand.page
    hand.go(page.get_by_role("link", name="Inspect", exact=True))
    hand.go("Yes, safe")
    for part, fault, severity, places in TWELVE:
        while hand.at() != part:
            hand.tap("Fine")
        hand.enter(fault, severity, *places)
    hand.tap("All fine from here")
    expect(page.locator("#id_count-mouthpiece")).to_have_value("0")  # it was just found missing
    hand.tap("Everything else is there")
    hand.tap("Finish and see the verdict")
    page.wait_for_selector(".page-head .verdict-big")


def failed_and_mended(hand: BenchHand, job: Job) -> None:
    """Its first play test has a weak note; what is behind it is found, joins the plan and is mended."""
    page = hand.page
    hand.go(page.get_by_role("link", name="Test it"))
    hand.tap(page.locator("label", has_text="I looked at each of these"))
    hand.tap(page.locator("label", has_text="It fails"))
    hand.tap(page.locator('label.chip:has(input[name="weak_notes"][value="D4"])'))
    hand.go("Keep the job open")
    page.get_by_role("heading", name="Suspects").wait_for()
    hand.go(page.get_by_role("link", name="Open the job"))
    hand.go(page.get_by_role("link", name="Found something else"))
    hand.go(page.get_by_role("link", name="Third valve slide", exact=True))
    hand.tap(page.locator('.fault-name:has(input[value="dent_slide_leg"])'))
    hand.go(page.locator('.fault:has(input[value="dent_slide_leg"]) button[value="light"]'))
    hand.work(job, stuck_once=())


def lent(hand: Hand, instrument: Instrument) -> Loan:
    page = hand.page
    page.goto(reverse("desk:instrument", args=[instrument.asset_number]))
    hand.go(page.get_by_role("link", name="Lend", exact=True).last)
    hand.tap(page.get_by_role("combobox", name="Student"))
    hand.type("rob")
    hand.tap(page.get_by_role("option", name="Reed, Robin"))
    hand.tap(page.locator("label", has_text="All here"))
    condition = page.locator("section", has=page.get_by_role("heading", name="Its condition")).inner_text()
    assert "Bell bow and bell stem: dent or ding, light" in condition
    assert not re.search("mouthpiece|piston|slide|cap|brace", condition.lower()), "what was mended is not signed for"
    hand.sign("id_student_signature")
    hand.sign("id_guardian_signature")
    hand.go("Lend it")
    return Loan.objects.get()


def said_after_the_job(page: Page, job: Job) -> None:
    """Minutes, money and the bill to come on the closed job; with what it was washed in the instrument's history."""
    closed = page.inner_text("main")
    spent = sum(one.estimated_minutes or one.minutes or 0 for one in job.attempts.all())
    assert f"{spent:.0f} min" in closed
    assert re.search(r"cost in all", closed)
    assert "bill is still to come" in closed
    page.goto(reverse("desk:instrument", args=[job.instrument.asset_number]))
    history = page.inner_text("main")
    assert "Repair job closed" in history
    assert "alcohol, 70% or stronger, after washing, wet for 1 min" in history


@pytest.mark.drill  # a minute; its parts are tried every day
@pytest.mark.counted
def test_a_neglected_trumpet_comes_from_a_closet_into_a_students_hands(room, tech, director, open_page, counted_hand):
    page = open_page(user=tech)
    page.context.add_init_script(COUNTER)
    hand = counted_hand(page, BenchHand)
    instrument = registered(hand)
    assert Donation.objects.get().donor_name == "A Giver"
    assert len(hand.taps) <= 8, hand.taps

    before = len(hand.taps)
    inspected(hand)
    assert Finding.objects.standing().count() == 12
    assert len(hand.taps) - before <= INSPECTION_TAPS, hand.taps[before:]

    hand.go(page.get_by_role("link", name="Start a repair job"))
    hand.go("Start the job")
    job = Job.objects.get()
    hand.work(job, stuck_once=STUCK_ONCE)
    assert hand.tried == set(STUCK_ONCE)
    failed_and_mended(hand, job)
    over = [(step, taps, outcomes) for step, taps, outcomes in hand.steps if taps > STEP_TAPS * outcomes]
    assert over == []

    before = len(hand.taps)
    hand.go(page.get_by_role("link", name="Test it"))
    hand.tap(page.locator("label", has_text="I looked at each of these"))
    hand.tap(page.locator("label", has_text=re.compile(r"^\s*It passes\s*$")))
    hand.go("Close the job")
    page.get_by_text("is back in storage").wait_for()
    assert len(hand.taps) - before <= STEP_TAPS
    assert counted_by_the_page(page) == sum(one != "open the job again" for one in hand.taps)
    said_after_the_job(page, job)

    instrument.refresh_from_db()
    assert instrument.readiness == "may_go_out"
    desk = open_page(user=director)
    loan = lent(counted_hand(desk), instrument)
    assert loan.student.name == "Robin Reed"
    assert Agreement.objects.get().guardian_signer == "Gale Reed"
