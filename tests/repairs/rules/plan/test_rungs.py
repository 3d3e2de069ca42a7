"""A ladder at a stuck part: order, guards, and when the shop is cheaper."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from inventory.catalog.schema import Ladder, Skill
from repairs.rules.facts import Outcome
from repairs.rules.odds import Odds, Tally
from repairs.rules.plan.needs import cleaning_method
from repairs.rules.plan.rungs import PASSED_WORDS, Climb, Spot, climb_ladder
from repairs.rules.plan.values import Bill, RungState
from tests.repairs.rules.plan.test_case import make_case
from tests.repairs.rules.small_trade import SLIDE_RUNGS, attempt, make_bench, make_catalog, make_rung


def climb(case=None, planned=frozenset()) -> Climb:
    given = case if case is not None else make_case()
    method = given.catalog.methods["free_slide"]
    return climb_ladder(
        Spot(
            case=given,
            method=method,
            part="main_slide",
            place="",
            planned=planned,
            mending={},
            cleaning=cleaning_method(given),
        )
    )


def ahead(found: Climb) -> list[str]:
    return [rung.entry.code for rung in found.planned.ahead]


def with_rungs(*rungs) -> object:
    return make_catalog(ladders={"slide": Ladder(code="slide", name="Stuck slide", roles=("slide",), rungs=rungs)})


def test_a_rung_weighs_bench_time_fee_harm_and_waiting():
    found = climb(make_case(waiting_day_amount=Decimal(4)))
    oil = next(rung for rung in found.planned.rungs if rung.entry.code == "oil")
    minutes = (2 + 4 * 4 + 8) / 6
    assert float(oil.cost_amount) == pytest.approx(30 * minutes / 60 + 0.005 * 60 + 4 * 0.5, abs=0.01)
    shop = next(rung for rung in found.planned.rungs if rung.entry.code == "shop")
    assert float(shop.cost_amount) == pytest.approx(90 + 0.01 * 60 + 4 * 10, abs=0.01)


def test_no_rung_comes_before_a_gentler_one_however_cheap():
    rungs = (
        make_rung("hard", force=3, p=0.99, minutes=(1, 1, 1)),
        make_rung("soft", force=0, p=0.05, minutes=(50, 60, 70)),
    )
    assert ahead(climb(make_case(catalog=with_rungs(*rungs)))) == ["soft", "hard"]


def test_within_a_class_the_ratio_decides():
    rungs = (make_rung("slow", minutes=(20, 20, 20)), make_rung("quick", minutes=(2, 2, 2)))
    assert ahead(climb(make_case(catalog=with_rungs(*rungs)))) == ["quick", "slow"]


def test_a_rung_that_must_follow_another_does():
    rungs = (make_rung("pull", minutes=(1, 1, 1), after=("chill",)), make_rung("chill", minutes=(9, 9, 9)))
    assert ahead(climb(make_case(catalog=with_rungs(*rungs)))) == ["chill", "pull"]


def test_a_student_who_waits_puts_the_long_soak_later():
    """Soaking comes to $7.52 (5.17 min, and 8.67 for the felts, at $30 an hour; harm $0.60) at odds 0.25, oil to $2.47 at 0.3.

    So oil, which rests half a day, is dearer per chance where a day of waiting is worth more than $13.11.
    """
    assert ahead(climb())[1:3] == ["oil", "soak"]
    assert ahead(climb(make_case(waiting_day_amount=Decimal(13))))[1:3] == ["oil", "soak"]
    assert ahead(climb(make_case(waiting_day_amount=Decimal("13.5"))))[1:3] == ["soak", "oil"]


def test_what_the_district_learned_moves_the_order():
    odds = Odds(by_rung={("slide", "oil"): Tally(freed=0, tries=20), ("slide", "soak"): Tally(freed=18, tries=20)})
    assert ahead(climb(make_case(odds=odds)))[1:3] == ["soak", "oil"]


def test_shared_work_is_free_and_says_so():
    found = climb(planned=frozenset({"bath"}))
    soak = next(rung for rung in found.planned.rungs if rung.entry.code == "soak")
    assert (soak.is_free, soak.minutes.high, soak.why) == (True, 0, "nothing extra: “Bath” does it")


def test_a_try_that_costs_more_than_it_saves_is_not_offered():
    risky = make_rung("cord", p=0.1, harm=0.9, force=3, minutes=(10, 10, 10))
    case = make_case(catalog=with_rungs(SLIDE_RUNGS[0], risky, SLIDE_RUNGS[-1]))
    found = climb(case)
    cord = next(rung for rung in found.planned.rungs if rung.entry.code == "cord")
    assert cord.state is RungState.REFUSED
    assert "the shop is cheaper" in cord.why
    asked = climb(replace(case, retry=frozenset({"free_slide:main_slide::cord"})))
    assert ahead(asked) == ["hand", "cord", "shop"]


def by_code(found: Climb) -> dict:
    return {rung.entry.code: rung for rung in found.planned.rungs}


FELTS_OUT = (5 + 4 * 8 + 15) / 6  # mean minutes


def test_a_try_keeps_apart_what_it_needs_first_unless_that_is_planned_anyway():
    case = make_case(catalog=with_rungs(make_rung("soak", needs=("take_felts_out",))))
    alone, planned = (by_code(climb(case, planned=done))["soak"] for done in (frozenset(), {"take_felts_out"}))
    assert alone.cost_amount == planned.cost_amount == Decimal("2.60")
    assert alone.first_takes == (("Take felts out", Bill(FELTS_OUT, Decimal("4.33"))),)
    assert planned.first_takes == ()


def test_what_two_tries_need_first_is_paid_for_once_in_their_order():
    """Felts out for $4.33, then two tries of $1.10 at 0.1: $6.42 / 0.19 is less than $15.60 / 0.35; $5.43 / 0.1 each is not."""
    needs = ("take_felts_out",)
    rungs = (
        make_rung("soak", needs=needs, p=0.1, minutes=(1, 1, 1)),
        make_rung("dip", needs=needs, p=0.1, minutes=(1, 1, 1)),
        make_rung("long", p=0.35, minutes=(30, 30, 30)),
        SLIDE_RUNGS[-1],
    )
    assert ahead(climb(make_case(catalog=with_rungs(*rungs)))) == ["soak", "dip", "long", "shop"]


def test_a_try_that_is_too_dear_names_the_one_to_go_on_with_and_leaves_it_the_set_up():
    needs = ("take_felts_out",)
    rungs = (
        make_rung("soak", p=0.01, needs=needs, harm=0.1, minutes=(60, 60, 60)),
        make_rung("heat", force=3, p=0.9, needs=needs),
        SLIDE_RUNGS[-1],
    )
    found = by_code(climb(make_case(catalog=with_rungs(*rungs))))
    assert found["soak"].state is RungState.REFUSED
    assert found["soak"].why.startswith("a try with what it needs first comes to $40.33 and saves at best ")
    assert found["soak"].why.endswith(": going on with “Heat” is cheaper")
    assert [bill.amount for _, bill in found["heat"].first_takes] == [Decimal("4.33")]


def test_set_up_can_make_a_try_too_dear():
    slow = make_catalog().methods["take_felts_out"]
    rungs = (make_rung("soak", p=0.1, needs=("take_felts_out",)), SLIDE_RUNGS[-1])
    trade = with_rungs(*rungs)
    assert ahead(climb(make_case(catalog=trade))) == ["soak", "shop"]
    trade = replace(trade, methods={**trade.methods, slow.code: replace(slow, minutes=(60, 90, 120))})
    found = climb(make_case(catalog=trade))
    assert ahead(found) == ["shop"]
    assert by_code(found)["soak"].why.endswith(": the shop is cheaper")


def test_tried_rungs_come_first_in_the_order_they_were_tried():
    tries = tuple(attempt(f"free_slide:main_slide::{rung}", Outcome.STILL_STUCK) for rung in ("oil", "hand"))
    found = climb(make_case(attempts=tries)).planned
    assert [(rung.entry.code, rung.state) for rung in found.rungs[:3]] == [
        ("oil", RungState.TRIED), ("hand", RungState.TRIED), ("soak", RungState.NEXT),
    ]  # fmt: skip


def test_a_rung_that_frees_nothing_is_no_try():
    look = make_rung("look", p=0.0)
    found = climb(make_case(catalog=with_rungs(look, SLIDE_RUNGS[0]))).planned
    assert [rung.state for rung in found.rungs] == [RungState.NEXT, RungState.REFUSED]


def test_what_this_bench_may_not_do_is_named_on_the_ladder():
    found = climb(make_case(bench=make_bench(has_torch=False, tools=frozenset()))).planned
    reasons = {rung.entry.code: rung.why for rung in found.rungs if rung.state is RungState.REFUSED}
    assert reasons == {"taps": "no mallet at this bench", "torch": "no torch is allowed at this bench"}


def test_a_specialist_s_rung_without_a_fee_is_only_refused():
    special = make_rung("unsolder", skill=Skill.SPECIALIST, force=4)
    found = climb(make_case(catalog=with_rungs(SLIDE_RUNGS[0], special))).planned
    assert found.rungs[-1].why == "specialist work"


def test_two_failures_harder_than_gentle_heat_end_the_tries_here():
    """Common practice, no source."""
    rungs = [make_rung(f"hard{number}", force=4, p=0.9) for number in range(4)]
    case = make_case(
        catalog=with_rungs(*rungs, SLIDE_RUNGS[-1]),
        attempts=tuple(attempt(f"free_slide:main_slide::hard{number}", Outcome.STILL_STUCK) for number in range(2)),
    )
    found = climb(case)
    assert found.next_rung is None
    assert {rung.why for rung in found.planned.rungs if rung.state is RungState.REFUSED} == {
        "after two failures harder than gentle heat it is a shop's turn"
    }
    asked = climb(replace(case, retry=frozenset({"free_slide:main_slide::hard3"})))
    assert ahead(asked)[0] == "hard3"
    assert ahead(climb(replace(case, attempts=()))) == ["hard0", "hard1", "shop"]


def test_what_is_gentler_than_a_failed_try_is_not_offered_unless_asked_for():
    """Common practice, no source: its odds hold only before the harder try."""
    tries = (attempt("free_slide:main_slide::taps", Outcome.STILL_STUCK),)
    found = climb(make_case(attempts=tries))
    assert ahead(found) == ["torch", "shop"]
    passed = {rung.entry.code for rung in found.planned.rungs if rung.why == PASSED_WORDS}
    assert passed == {"hand", "soak", "oil"}
    asked = climb(make_case(attempts=tries, retry=frozenset({"free_slide:main_slide::oil"})))
    assert ahead(asked) == ["oil", "torch", "shop"]


def test_a_few_unlucky_tries_do_not_end_a_rung_and_many_do():
    """A try weighs $5 and the shop asks $40: worth it from one chance in eight on."""
    rungs = (
        make_rung("warm", p=0.25, minutes=(8, 10, 12), harm=0.0),
        make_rung("shop", p=1.0, minutes=(0, 0, 0), harm=0.0, force=5, skill=Skill.SPECIALIST,
                  fee=(Decimal(40), Decimal(40))),
    )  # fmt: skip

    def tried(tries: int) -> list[str]:
        odds = Odds(by_rung={("slide", "warm"): Tally(freed=0, tries=tries)})
        return ahead(climb(make_case(catalog=with_rungs(*rungs), odds=odds)))

    assert 1 / (4 + 5) < 5 / 40  # its middle chance after five failures alone would end it
    assert tried(0) == tried(5) == ["warm", "shop"]
    assert tried(30) == ["shop"]
