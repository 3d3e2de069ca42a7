"""A part through any sequence of acts: stock never lies, all that is lent can be played, all can be undone."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from datetime import timedelta
from typing import Any

import pytest
from django.db import transaction
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule, run_state_machine_as_test

from core.exceptions import RefusedError
from inventory.models import Finding, Instrument, Role
from inventory.rules.facts import Owed
from inventory.selectors.state import stored_differences
from inventory.services.care import record_cleaning
from inventory.services.inspecting import close_findings
from loans.exceptions import StaysInError
from loans.models import Loan
from loans.services import return_loan
from repairs.models import PartsInstrument, StockItem, TakenPart
from repairs.pages.donors import offers_of, taken_lines
from repairs.selectors.donors import taken_differences
from repairs.selectors.stock import stock_differences
from repairs.services.donors import mark_parts_instrument, take_part, unmark_parts_instrument
from repairs.services.taken_parts import part_does_not_fit, part_fits, withdraw_taken_part
from tests.factories import NOW, make_bench, make_director, make_ready_instrument, make_school, make_user, new_nonce
from tests.loans.makers import all_counts, make_loan, make_return_walk
from tests.repairs.money_makers import missing_at

Spot = tuple[str, str]
STOPS = {"bell", "piston", "mouthpiece"}  # a trumpet does not sound without
PISTONS = frozenset(("piston", place) for place in "123")
OFFERS: dict[Spot, frozenset[Spot]] = {
    ("bell", ""): frozenset({("bell", "")}),
    ("mouthpiece", ""): frozenset({("mouthpiece", "")}),
    ("finger_button", "2"): frozenset({("finger_button", "2")}),
    ("piston", "1"): PISTONS,
}
which, numbers, offers = st.integers(0, 2), st.integers(0, 20), st.sampled_from(sorted(OFFERS))


class PartsMachine(RuleBasedStateMachine):
    """Three trumpets of a school. ``lacks`` is what each has lost by what was done, kept beside the program."""

    def __init__(self) -> None:
        super().__init__()
        self.hold = transaction.atomic()
        self.hold.__enter__()
        school = make_school()
        self.director, self.tech = make_director(school), make_user(Role.TECH, school=school)
        self.bench, self.now = make_bench(school=school), NOW
        self.keys = [make_ready_instrument(school=school, model="B2").pk for _ in range(3)]
        self.lacks: dict[int, set[Spot]] = {pk: set() for pk in self.keys}
        self.needed: dict[Any, set[Spot]] = {}  # by batch: what the taker lacked when the part was put on
        self.for_parts: set[int] = set()
        self.give_up(0)
        self.take(number=0, to=1, offer=("piston", "1"))

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.hold.__exit__(None, None, None)

    def by(self, actor: Any = None) -> dict[str, Any]:
        self.now += timedelta(minutes=1)
        return {"actor": actor or self.tech, "at": self.now}

    def row(self, index: int) -> Instrument:
        return Instrument.objects.get(pk=self.keys[index])

    def standing(self, index: int) -> PartsInstrument:
        return PartsInstrument.objects.standing().get(instrument=self.keys[index])

    @staticmethod
    def pick(some: set[int], number: int) -> int:
        return sorted(some)[number % len(some)]

    def batches(self) -> list[list[TakenPart]]:
        rows: dict[Any, list[TakenPart]] = {}
        for one in TakenPart.objects.for_lines().order_by("taken_at", "pk"):
            rows.setdefault(one.batch, []).append(one)
        return list(rows.values())

    def chosen(self, number: int) -> list[TakenPart]:
        batches = self.batches()
        return batches[number % len(batches)]

    @staticmethod
    def goes_through(act: Callable[[], object]) -> bool:
        """Whether the act was done, not refused."""
        with suppress(RefusedError):
            act()
            return True
        return False

    @rule(index=which)
    def give_up_or_put_back_in_service(self, index: int) -> None:
        if index in self.for_parts:
            unmark_parts_instrument(parts_instrument=self.standing(index), because="Plays again", **self.by())
            self.for_parts.remove(index)
        else:
            self.give_up(index)

    def give_up(self, index: int) -> None:
        row = self.row(index)
        done = self.goes_through(
            lambda: mark_parts_instrument(instrument=row, because="Rotten", **self.by(self.director))
        )
        assert done == (row.whereabouts == "in_store")
        self.for_parts |= {index} if done else set()

    @precondition(lambda self: self.for_parts)
    @rule(number=numbers, to=which, offer=offers)
    def take(self, number: int, to: int, offer: Spot) -> None:
        index, onto, key = self.pick(self.for_parts, number), self.row(to), new_nonce()
        donor = self.standing(index)
        out = TakenPart.objects.gone().filter(parts_instrument=donor).values_list("part", "place")
        left = OFFERS[offer] - self.lacks[self.keys[index]] - set(out)
        given: dict[str, Any] = {"part": offer[0], "is_set": offer[0] == "piston"}
        if offer[0] != "piston":
            given["place"] = offer[1]
        done = self.goes_through(lambda: take_part(parts_instrument=donor, onto=onto, batch=key, **given, **self.by()))
        assert done == (bool(left) and index != to)
        if done:
            self.needed[key] = self.lacks[onto.pk] & left
            self.lacks[self.keys[index]] |= left

    @precondition(lambda self: self.needed)
    @rule(number=numbers)
    def fits(self, number: int) -> None:
        first = self.chosen(number)[0]
        assert self.goes_through(lambda: part_fits(taken=first, **self.by())) == (first.went == "")

    @precondition(lambda self: self.needed)
    @rule(number=numbers)
    def goes_back(self, number: int) -> None:
        self.comes_off(number, "back")

    @precondition(lambda self: self.needed)
    @rule(number=numbers)
    def goes_on_a_shelf(self, number: int) -> None:
        self.comes_off(number, "shelf")

    @precondition(lambda self: self.needed)
    @rule(number=numbers)
    def was_a_slip(self, number: int) -> None:
        self.comes_off(number, "slip")

    def comes_off(self, number: int, goes: str) -> None:
        rows = self.chosen(number)
        first = rows[0]
        donor, spots = first.parts_instrument.instrument_id, {(one.part, one.place) for one in rows}
        may = first.went == "" or (first.went == "shelf" and goes != "shelf")
        if goes == "back":
            may = (
                may and bool(spots & self.lacks[donor]) and first.parts_instrument.instrument.whereabouts == "in_store"
            )
        if goes != "slip" and first.went == "":
            may = may and first.onto.whereabouts == "in_store"
        given: dict[str, Any] = {"taken": first, "nonce": new_nonce(), "because": "Too wide", **self.by()}
        if goes == "slip":
            done = self.goes_through(lambda: withdraw_taken_part(**given))
        else:
            done = self.goes_through(lambda: part_does_not_fit(goes=goes, bench=self.bench, **given))
        assert done == may
        if not done:
            return
        if goes != "shelf":
            self.lacks[donor] -= spots
        if first.went == "":
            self.lacks[first.onto_id] |= self.needed[first.batch]

    @precondition(lambda self: any(self.lacks.values()))
    @rule(number=numbers)
    def repair(self, number: int) -> None:
        """A bench closes what is missing, with parts from wherever."""
        lacking = {index for index, pk in enumerate(self.keys) if self.lacks[pk]}
        instrument = self.row(self.pick(lacking, number))
        missing = Finding.objects.filter(instrument=instrument, fault="missing_part").standing()
        keys = list(missing.values_list("pk", flat=True))
        told = {"because": "repaired", "reference": "job:1"}
        close_findings(instrument=instrument, finding_ids=keys, **told, **self.by())
        self.lacks[instrument.pk] = set()

    @rule(index=which)
    def lend_or_take_back(self, index: int) -> None:
        instrument = self.row(index)
        if loan := Loan.objects.open().filter(instrument=instrument).first():
            walk, counts = make_return_walk(loan, **self.by(self.director)), all_counts(instrument)
            return_loan(loan=loan, taken_back=walk, accessories_back=counts, **self.by(self.director))
            record_cleaning(instrument=loan.instrument, done=[Owed.HYGIENE], **self.by())
            return
        try:
            make_loan(instrument=instrument, **self.by(self.director))
        except StaysInError:
            return
        assert index not in self.for_parts
        assert STOPS.isdisjoint(part for part, _ in self.lacks[instrument.pk])

    @invariant()
    def each_lacks_what_is_said_to_be_missing(self) -> None:
        for pk, lacks in self.lacks.items():
            row = Instrument.objects.get(pk=pk)
            assert missing_at(row) == lacks
            if row.is_parts_instrument or any(part in STOPS for part, _ in lacks):
                assert row.readiness == "stays_in"

    @invariant()
    def what_is_stored_follows_from_the_facts(self) -> None:
        assert list(taken_differences()) == []
        assert list(stock_differences()) == []
        assert [wrong for _, wrong in stored_differences(Instrument.objects.all()) if wrong] == []

    @invariant()
    def what_is_on_the_shelf_is_what_came_off(self) -> None:
        shelved = [rows for rows in self.batches() if rows[0].went == "shelf"]
        assert sum(item.quantity for item in StockItem.objects.all()) == len(shelved)

    @invariant()
    def nothing_missing_is_offered_and_all_else_is(self) -> None:
        for found in PartsInstrument.objects.standing():
            out = set(TakenPart.objects.gone().filter(parts_instrument=found).values_list("part", "place"))
            gone = self.lacks[found.instrument_id] | out
            offered = {one.key.partition(":")[0] for one in offers_of(found)}
            for (part, _), spots in OFFERS.items():
                if part != "finger_button":  # its other places are offered whatever became of this one
                    assert (part in offered) == bool(spots - gone)

    @invariant()
    def every_state_has_a_way_on(self) -> None:
        for line in taken_lines(TakenPart.objects.for_lines()):
            assert line.became
            if line.is_settled:
                continue
            with transaction.atomic():
                withdraw_taken_part(taken=line.first, because="Undone", nonce=new_nonce(), **self.by())
                transaction.set_rollback(True)


@pytest.mark.django_db
@pytest.mark.parametrize("examples", [3, pytest.param(60, marks=pytest.mark.drill)])
def test_a_part_through_any_sequence_of_acts(examples):
    run_state_machine_as_test(PartsMachine, settings=settings(max_examples=examples, stateful_step_count=35))
