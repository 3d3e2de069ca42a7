"""An instrument is corrected, or its kind changes in the catalog: every page, paper and command still answers.

Everything is wrong with the instruments here: a finding at every part, a job, a loan with its paper, an order.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from desk.pages.explaining import explanation
from inventory.catalog.load import catalog
from inventory.catalog.schema import Kind
from inventory.models import Finding, Inspection, Instrument, School, Tag
from inventory.pdf import print_labels
from inventory.rules.labels import SHEETS
from inventory.services.registering import change_instrument
from inventory.services.state import refresh_state
from loans.models import Agreement, Loan
from loans.pdf import agreement_pdf
from loans.selectors.agreements import paper_facts
from repairs.models import Job, ShopOrder
from repairs.pages.orders import asking
from repairs.pages.packing_slip import slips_of
from repairs.pages.sheet import sheet_of
from repairs.selectors.planning import job_state
from repairs.services.jobs import open_job
from tests.catalogs import using, without_kind, without_part
from tests.factories import NOW, TODAY, make_instrument, make_ready_instrument, make_user
from tests.loans.makers import make_agreement, make_loan
from tests.opening import differences
from tests.repairs.makers import make_school_bench
from tests.repairs.money_makers import make_order

pytestmark = pytest.mark.page

KINDS = sorted(catalog().kinds)
GONE = "on a part this instrument no longer has"
PAGES = (
    "desk:instrument", "desk:fit", "inventory:inspect", "inventory:play-test", "inventory:edit", "inventory:trend",
    "inventory:accessories", "inventory:hygiene", "repairs:worth",
)  # fmt: skip
HOME = "https://horns.district.example"


@dataclass(frozen=True)
class Case:
    """Two instruments of a kind: one on the bench with an order, one lent with its paper."""

    client: Client
    school: School
    on_bench: int
    out: int
    job: int
    loan: int
    order: int

    @property
    def instruments(self) -> list[Instrument]:
        return list(Instrument.objects.filter(pk__in=(self.on_bench, self.out)).select_related("school").order_by("pk"))

    @property
    def tags(self) -> list[Tag]:
        return list(Tag.objects.live().filter(instrument__in=self.instruments).select_related("instrument__school"))

    @property
    def agreement(self) -> Agreement:
        return Loan.objects.get(pk=self.loan).agreement

    def get(self, name: str, *args: object) -> bytes:
        answer = self.client.get(reverse(name, args=args))
        assert answer.status_code == 200, (name, answer.status_code)
        return answer.content

    def ask(self) -> None:
        """Ask every page and command, and what the papers say."""
        for instrument in self.instruments:
            for name in PAGES if instrument.pk == self.on_bench else PAGES[:1]:
                self.get(name, instrument.asset_number)
            assert set(asking(instrument).get("findings", ())) <= set(instrument.findings.values_list("pk", flat=True))
            told = explanation(instrument, today=TODAY)
            assert len(told["findings"]) == Finding.objects.filter(instrument=instrument).standing().count()
        self.get("repairs:job", self.job)
        self.get("repairs:prove", self.job)
        state = job_state(Job.objects.select_related("instrument__school", "bench").get(pk=self.job))
        assert sheet_of(state, home=HOME, today=TODAY).asset_number == state.job.instrument.asset_number
        assert paper_facts(self.agreement)["findings"]
        assert slips_of([ShopOrder.objects.get(pk=self.order)], home=HOME, today=TODAY)[0]["made_on"] == TODAY
        count, _ = differences()
        assert count == Instrument.objects.count()

    def print_all(self) -> None:
        """Lay out the papers themselves."""
        papers = [
            self.get("repairs:sheet", self.job),
            self.get("repairs:packing-slip", self.order),
            agreement_pdf(self.agreement, paper_facts(self.agreement)),
            print_labels(tags=self.tags, address=HOME, sheet=SHEETS["30up"], start=1, actor=None, at=NOW),
        ]
        assert all(paper.startswith(b"%PDF") for paper in papers)


def break_everything(walk: Inspection) -> None:
    """Enter the likeliest severe fault at every part, and at every place that hangs on an option."""
    instrument, roles = walk.instrument, catalog().roles
    Finding.objects.bulk_create(
        Finding(
            inspection=walk,
            instrument=instrument,
            part=part.code,
            place=place,
            fault=roles[part.role].faults[0],
            severity="severe",
            found_at=NOW,
        )
        for part in instrument.parts
        for place in ("", *(spot.code for spot in part.places if spot.only_with))
    )


def make_case(client: Client, school: School, *, kind: str, options: dict[str, str]) -> Case:
    user = make_user("director", "tech", "administrator", school=school)
    client.force_login(user)
    bench = make_instrument(school=school, kind_code=kind, options=options)
    walk = Inspection.objects.create(
        instrument=bench, purpose="intake", actor=user, started_at=NOW, finished_at=NOW, is_safe=True
    )
    break_everything(walk)
    refresh_state(instrument=bench, actor=user, at=NOW)
    order = make_order(instrument=Instrument.objects.get(pk=bench.pk), actor=user)
    job = open_job(instrument=Instrument.objects.get(pk=bench.pk), bench=make_school_bench(school), actor=user, at=NOW)
    ready = make_ready_instrument(school=school, kind_code=kind, options=options)
    loan = make_loan(instrument=ready, actor=user)
    break_everything(loan.hand_out)
    refresh_state(instrument=ready, actor=user, at=NOW)
    make_agreement(loan)
    return Case(client, school, bench.pk, ready.pk, job.pk, loan.pk, order.pk)


def changes_of(kind: Kind) -> Iterator[tuple[str, str, str]]:
    """Every change of an option: (option, from, to)."""
    for option in kind.options:
        for before in option.choices:
            for after in option.choices:
                if before != after:
                    yield option.code, before, after


def correct(case: Case, options: dict[str, str]) -> None:
    actor = make_user("director", school=case.school)
    for instrument in case.instruments:
        change_instrument(instrument=instrument, options=options, actor=actor, at=NOW)


@pytest.mark.drill
@pytest.mark.parametrize("code", KINDS)
def test_every_change_of_an_option(code, client, school):
    kind = catalog().kinds[code]
    for option in kind.options:
        for before in option.choices:
            case = make_case(client, school, kind=code, options={option.code: before})
            for after in option.choices:
                correct(case, {option.code: after})
                case.ask()
            case.print_all()


@pytest.mark.drill
@pytest.mark.parametrize("code", KINDS)
def test_every_part_dropped_from_the_catalog(code, client, school):
    case = make_case(client, school, kind=code, options={})
    for part in catalog().kinds[code].parts:
        with using(without_part(catalog(), code, part=part.code)):
            case.ask()


@pytest.mark.drill
@pytest.mark.parametrize("code", KINDS)
def test_every_kind_dropped_from_the_catalog(code, client, school):
    case = make_case(client, school, kind=code, options={})
    with using(without_kind(catalog(), code)):
        case.ask()
        case.print_all()


# The sample of every day: the change that failed, and each kind once.


def test_a_tuba_with_a_stuck_fourth_slide_turns_out_to_have_three_valves(client, school):
    case = make_case(client, school, kind="tuba", options={"valves": "4"})
    correct(case, {"valves": "3"})
    case.ask()
    case.print_all()
    for instrument in case.instruments:
        page = case.get("desk:instrument", instrument.asset_number).decode()
        assert "Fourth valve slide, " in page
        assert GONE in page
        gone = [row for row in explanation(instrument, today=TODAY)["findings"] if GONE in row["sentence"]]
        assert {row["part"] for row in gone} >= {"fourth_valve_slide", "piston"}
        assert {row["effect"] for row in gone} == {"looks_only"}
    assert GONE in case.get("repairs:job", case.job).decode().lower()
    with using(without_kind(catalog(), "tuba")):
        case.ask()
        case.print_all()


@pytest.mark.parametrize("code", KINDS)
def test_each_kind_with_one_change_and_one_part_less(code, school):
    kind = catalog().kinds[code]
    option, before, after = next(changes_of(kind), ("", "", ""))
    instrument = make_instrument(school=school, kind_code=code, options={option: before} if option else {})
    user = make_user("tech", school=school)
    walk = Inspection.objects.create(
        instrument=instrument, purpose="intake", actor=user, started_at=NOW, finished_at=NOW, is_safe=True
    )
    break_everything(walk)
    job = open_job(instrument=instrument, bench=make_school_bench(school), actor=user, at=NOW)
    if option:
        change_instrument(instrument=instrument, options={option: after}, actor=user, at=NOW)
    lost = kind.parts[len(kind.parts) // 2].code
    with using(without_part(catalog(), code, part=lost)):
        row = Instrument.objects.select_related("school").get(pk=instrument.pk)
        told = explanation(row, today=TODAY)
        assert {one["part"] for one in told["findings"] if GONE in one["sentence"]} >= {lost} & {
            stop.code for stop in instrument.parts
        }
        sheet = sheet_of(
            job_state(Job.objects.select_related("instrument__school", "bench").get(pk=job.pk)),
            home=HOME,
            today=TODAY,
        )
        assert any(GONE in line for line in sheet.left)


@pytest.mark.parametrize("command", ["explain", "verify", "plan", "playing", "diagnose"])
def test_commands_answer_for_a_kind_that_is_gone(command, school, capsys):
    instrument = make_ready_instrument(school=school, kind_code="tuba")
    args = {"explain": [instrument.asset_number], "verify": [], "diagnose": ["tuba", "--failed", "C3"]}
    with using(without_kind(catalog(), "tuba")):
        try:
            call_command(command, *args.get(command, ["tuba"]))
        except (CommandError, SystemExit) as refusal:
            said = str(refusal) + capsys.readouterr().out
            assert command != "explain"
            assert "tuba" in said or instrument.asset_number in said
        else:
            assert command == "explain"
