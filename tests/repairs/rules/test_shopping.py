"""What to buy: figures worked by hand."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from repairs.rules.shopping import Held, Need, lacking, reserved, shopping_list

D = Decimal


def oil(**overrides) -> Held:
    fields = {
        "key": "valve_oil", "name": "valve oil", "unit": "bottle", "on_hand": D(1), "reorder_level": D(2),
        "each_amount": D("6.50"),
    }  # fmt: skip
    return Held(**(fields | overrides))


def need(quantity: str, job: str = "T-1", code: str = "valve_oil") -> Need:
    return Need(code=code, quantity=D(quantity), job=job)


def test_whole_units_are_bought_so_that_the_level_is_left():
    found = shopping_list(needs=[need("0.15"), need("0.15", "T-2")], held=[oil()])
    line = found.lines[0]
    assert (line.needed, line.buy, line.cost_amount) == (D("0.30"), 2, D("13.00"))
    assert line.jobs == ("T-1", "T-2")
    assert not line.is_short
    assert found.total_amount == D("13.00")


def test_what_lies_there_in_plenty_is_not_bought():
    found = shopping_list(needs=[need("0.15")], held=[oil(on_hand=D(9))])
    assert found.lines == ()
    assert [line.item.key for line in found.enough] == ["valve_oil"]


def test_what_no_job_needs_is_bought_when_it_is_under_its_level():
    assert shopping_list(needs=[], held=[oil()]).lines[0].buy == 1
    assert shopping_list(needs=[], held=[oil(on_hand=D(2))]).lines == ()


def test_a_book_below_nothing_is_made_good():
    assert shopping_list(needs=[], held=[oil(on_hand=D("-0.5"), reorder_level=D(1))]).lines[0].buy == 2


def test_what_stops_a_job_comes_first_and_what_has_no_price_is_counted_apart():
    spare = oil(key="spare", name="a spare", on_hand=D(0), reorder_level=D(0), each_amount=None)
    found = shopping_list(needs=[need("1", code="spare")], held=[oil(), spare])
    assert [line.item.key for line in found.lines] == ["spare", "valve_oil"]
    assert found.unpriced == 1
    assert found.total_amount == D("6.50")


def test_a_need_for_something_unheard_of_is_a_mistake():
    with pytest.raises(KeyError):
        shopping_list(needs=[need("1", code="nothing")], held=[oil()])


def test_reserved_adds_up_by_code():
    assert reserved([need("0.15"), need("0.2"), need("1", code="pad")]) == {"valve_oil": D("0.35"), "pad": D(1)}


amounts = st.decimals(min_value=0, max_value=50, places=3)


@given(quantities=st.lists(amounts, max_size=6), on_hand=amounts, level=amounts)
def test_after_buying_and_working_the_level_is_there_and_one_less_would_not_do(quantities, on_hand, level):
    found = shopping_list(
        needs=[Need(code="valve_oil", quantity=one, job="x") for one in quantities],
        held=[oil(on_hand=on_hand, reorder_level=level)],
    )
    bought = found.lines[0].buy if found.lines else 0
    rest = on_hand + bought - sum(quantities)
    assert rest >= level
    assert bought == 0 or rest - 1 < level


def test_short_is_only_what_is_not_there():
    """Just enough for the jobs is not short, though the reorder level asks for more."""
    exactly, short = (shopping_list(needs=[need(much)], held=[oil()]).lines[0] for much in ("1", "1.01"))
    assert (exactly.is_short, exactly.buy) == (False, 2)
    assert (short.is_short, short.buy) == (True, 3)


def test_in_stock_is_only_what_a_job_needs_and_nobody_has_to_buy():
    spare = oil(key="spare", on_hand=D(9))
    found = shopping_list(needs=[need("0.5")], held=[oil(), spare])
    assert [line.item.key for line in found.lines] == ["valve_oil"]
    assert found.enough == ()


def test_what_the_bench_does_not_keep_is_bought_for_the_jobs_alone():
    (line,) = shopping_list(needs=[need("2")], held=[Held("valve_oil", "valve oil", "bottle", each_amount=None)]).lines
    assert (line.buy, line.is_short, line.cost_amount) == (2, True, None)


def test_lines_without_a_price_are_counted():
    held = [oil(key=key, each_amount=price) for key, price in (("a", None), ("b", D(1)), ("c", D(2)))]
    assert shopping_list(needs=[], held=held).unpriced == 1


def lacks(*jobs: str, **on_hand: str) -> list[dict[str, Decimal]]:
    """Jobs as "oil pad pad", one of each word."""
    needs = [[need("1", code=code) for code in words.split()] for words in jobs]
    return lacking(needs, on_hand={code: D(much) for code, much in on_hand.items()})


def test_the_first_in_the_order_has_the_part_and_the_next_waits_for_it():
    assert lacks("pad", "pad", pad="1") == [{}, {"pad": 1}]
    assert lacks("pad pad", "pad", pad="1") == [{"pad": 2}, {}], "one that lacks any takes none"


def test_what_is_promised_to_one_that_waits_is_lacking_to_the_next_that_waits():
    assert lacks("oil pad", "oil pad", pad="1", oil="0") == [{"oil": 1}, {"oil": 1, "pad": 1}]


def test_a_record_below_nothing_is_nothing_and_what_is_not_kept_keeps_nobody_waiting():
    assert lacks("pad", pad="-2") == [{"pad": 1}]
    assert lacks("pad") == [{}]
    assert lacks("", pad="-2") == [{}]
    assert lacking([], on_hand={}) == []


some_jobs = st.lists(
    st.lists(st.tuples(st.sampled_from(["oil", "pad", "cork"]), amounts), max_size=4), max_size=6
)  # fmt: skip


@given(jobs=some_jobs, on_hand=st.fixed_dictionaries({}, optional={"oil": amounts, "pad": amounts}))
def test_planned_jobs_never_take_more_than_is_there_and_the_shopping_list_agrees(jobs, on_hand):
    needs = [[Need(code, much, f"T-{number}") for code, much in job] for number, job in enumerate(jobs)]
    found = lacking(needs, on_hand=on_hand)
    taken = reserved(one for job, lack in zip(needs, found, strict=True) if not lack for one in job)
    assert all(taken.get(code, D(0)) <= much for code, much in on_hand.items())
    held = [oil(key=code, on_hand=on_hand.get(code, D(0)), is_kept=code in on_hand) for code in ("oil", "pad", "cork")]
    bought = shopping_list(needs=[one for job in needs for one in job], held=held)
    short = {line.item.key: line.needed - line.item.on_hand for line in bought.lines if line.is_short}
    waited: dict[str, Decimal] = {}
    for lack in found:
        for code, much in lack.items():
            assert much > 0
            waited[code] = waited.get(code, D(0)) + much
    assert waited == short, "what the jobs of the plan lack is what the list is short of"


@given(jobs=some_jobs, on_hand=amounts)
def test_a_later_job_takes_nothing_from_an_earlier_one(jobs, on_hand):
    needs = [[Need("oil", much, "T") for _, much in job] for job in jobs]
    found = lacking(needs, on_hand={"oil": on_hand})
    for count in range(len(needs)):
        alone = lacking(needs[: count + 1], on_hand={"oil": on_hand})
        assert [not lack for lack in alone] == [not lack for lack in found[: count + 1]]


def test_a_record_below_nothing_without_a_job_keeps_no_job_waiting():
    (line,) = shopping_list(needs=[], held=[oil(on_hand=D(-1))]).lines
    assert not line.is_short
