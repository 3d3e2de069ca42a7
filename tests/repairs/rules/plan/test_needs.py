"""What must be done first, and whether it can be."""

from __future__ import annotations

from repairs.rules.facts import Outcome
from repairs.rules.plan.needs import all_needs, cleaning_method, direct_needs, is_settled, needs_of
from tests.repairs.rules.plan.test_case import make_case
from tests.repairs.rules.small_trade import (
    attempt,
    make_bench,
    make_catalog,
    make_kind,
    make_method,
    make_part,
    with_methods,
)


def test_needs_of_needs_come_first():
    found = all_needs(make_case(), codes=("bath",), part="brace", place="")
    assert [needed.key for needed in found.found] == ["take_felts_out", "bath"]


def test_a_need_for_a_role_that_the_kind_lacks_falls_away():
    bare = make_case(kind=make_kind(parts=(make_part("leadpipe", "leadpipe"),)))
    assert [needed.key for needed in all_needs(bare, codes=("bath",), part="", place="").found] == ["bath"]


def test_what_is_done_is_not_needed_again():
    case = make_case(attempts=(attempt("bath", Outcome.DONE),))
    assert all_needs(case, codes=("bath",), part="", place="").found == ()
    assert [one.key for one in direct_needs(case, codes=("bath",), part="", place="")] == ["bath"]


def test_a_knowing_skip_settles_a_need_and_a_stop_does_not():
    assert is_settled(make_case(attempts=(attempt("bath", Outcome.SKIPPED),)), "bath")
    assert not is_settled(make_case(attempts=(attempt("bath", Outcome.STOPPED),)), "bath")


def test_a_need_that_cannot_be_had_says_why():
    case = make_case(bench=make_bench(tools=frozenset()))
    assert (
        all_needs(case, codes=("bath",), part="", place="").refusal == "it needs “Bath” first, but no tub at this bench"
    )


def test_a_need_at_a_part_stays_at_that_part():
    case = make_case(catalog=with_methods(make_catalog(), make_method("scrape")))
    assert [one.key for one in all_needs(case, codes=("scrape",), part="bow", place="x").found] == ["scrape:bow:x"]


def test_a_ladder_is_climbed_for_a_finding_never_for_a_need():
    assert direct_needs(make_case(), codes=("free_slide",), part="bow", place="") == ()


def test_the_quickest_wet_cleaning_of_the_whole_takes_oil_off():
    quick = make_method("rinse", tags=("wet", "clean"), whole=True, minutes=(5, 10, 20))
    dry = make_method("air", tags=("clean", "dry_clean"), whole=True, minutes=(1, 2, 3))
    found = cleaning_method(make_case(catalog=with_methods(make_catalog(), quick, dry)))
    assert found == quick
    assert cleaning_method(make_case(bench=make_bench(tools=frozenset()))) is None


def test_a_method_needs_more_at_a_part_of_some_roles():
    solder = make_method("solder", needs=("bath",), needs_at={"bow": ("strip",)}, fixes=("loose",))
    case = make_case(catalog=with_methods(make_catalog(), solder, make_method("strip", phase=3)))
    assert needs_of(case, solder, part="bow") == ("bath", "strip")
    assert needs_of(case, solder, part="brace") == needs_of(case, solder, part="") == ("bath",)
