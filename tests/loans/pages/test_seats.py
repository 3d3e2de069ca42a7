from collections import Counter

from loans.models import ClassPeriod, Ensemble
from loans.pages.seats import need_page, places_page
from loans.selectors.seats import Need


def test_classes_stand_under_their_ensemble_and_what_no_longer_meets_stands_last():
    jazz, old = Ensemble(pk=1, name="Jazz", level="concert"), Ensemble(pk=2, name="Old", is_active=False)
    first, second = ClassPeriod(pk=1, name="P1", ensemble=jazz), ClassPeriod(pk=2, name="P2", ensemble=old)
    third = ClassPeriod(pk=3, name="P3", ensemble=jazz, is_active=False)
    page = places_page([jazz, old], [first, second, third])
    assert [(line["row"], line["level"], line["periods"]) for line in page["ensembles"]] == [
        (jazz, "Concert band", [first])
    ]
    assert page["others"] == [second]
    assert page["past"] == [old, third]
    assert not page["is_empty"]
    assert places_page([], [])["is_empty"]


def test_need_in_words_and_sums():
    flute = Need("flute", "", levels=Counter(concert=1, first_year=2), needed=3, playing=1, free=1, bench=3)
    violin = Need("violin", "1/2", levels=Counter(first_year=2), needed=2, bench=1)
    page = need_page([flute, violin])
    assert [(line["kind"], line["levels"]) for line in page["lines"]] == [
        ("Flute", "First year 2, Concert band 1"), ("Violin", "First year 2"),
    ]  # fmt: skip
    assert (page["needed"], page["playing"], page["short"], page["after_bench"]) == (5, 1, 3, 1)
