"""Pages of parts instruments."""

from __future__ import annotations

from html import unescape

import pytest
from django.urls import reverse

from inventory.catalog.load import catalog
from inventory.models import Instrument
from repairs.models import StockItem, TakenPart, WorthDecision
from repairs.selectors.planning import plan_for_job
from tests.catalogs import using, with_setting
from tests.factories import make_bench, make_inspection, make_instrument, make_ready_instrument, make_school, new_nonce
from tests.repairs.makers import make_school_bench
from tests.repairs.money_makers import make_job, make_parts_instrument, make_taken


def page_of(parts_instrument, name="parts-horn"):
    return reverse(f"repairs:{name}", args=[parts_instrument.instrument.asset_number])


def take(desk, parts_instrument, **fields):
    return desk.post(page_of(parts_instrument, "take-part"), {"nonce": new_nonce(), "note": ""} | fields)


def keep(client, instrument, **fields):
    return client.post(reverse("repairs:mark-parts-horn", args=[instrument.asset_number]), fields)


def test_who_approves_keeps_it_for_parts_and_it_stays_in(client, director, school):
    instrument = make_ready_instrument(school=school)
    client.force_login(director)
    assert keep(client, instrument, because="").status_code == 422
    answer = keep(client, instrument, because="Casing cracked")
    assert answer.headers["Location"] == reverse("repairs:worth", args=[instrument.asset_number])
    assert not Instrument.objects.get(pk=instrument.pk).is_parts_instrument  # somebody else has to approve
    with using(with_setting(catalog(), "approver_is_another", 0)):
        answer = keep(client, instrument, because="Casing cracked")
    assert answer.headers["Location"] == reverse("repairs:parts-horn", args=[instrument.asset_number])
    assert Instrument.objects.get(pk=instrument.pk).readiness == "stays_in"
    assert instrument.asset_number in client.get(reverse("repairs:parts-horns")).text


def test_who_may_not_approve_asks_for_it(desk, director, school):
    instrument, nonce = make_ready_instrument(school=school), new_nonce()
    page = desk.get(reverse("desk:instrument", args=[instrument.asset_number])).text
    assert reverse("repairs:mark-parts-horn", args=[instrument.asset_number]) in page
    for _ in range(2):
        answer = keep(desk, instrument, because="Casing cracked", nonce=nonce)
    assert answer.headers["Location"] == reverse("repairs:worth", args=[instrument.asset_number])
    assert not Instrument.objects.get(pk=instrument.pk).is_parts_instrument
    decision = WorthDecision.objects.get()
    assert (decision.answer, decision.because, decision.holds) == ("keep_for_parts", "Casing cracked", False)
    desk.force_login(director)
    assert instrument.asset_number in desk.get(reverse("repairs:approvals")).text
    desk.post(reverse("repairs:settle-worth", args=[decision.pk]), {"answer": "yes"})
    assert Instrument.objects.get(pk=instrument.pk).is_parts_instrument


def test_what_is_kept_for_parts_is_not_kept_once_more(client, director, school):
    instrument = make_parts_instrument(school=school).instrument
    client.force_login(director)
    answer = keep(client, instrument, because="Again")
    assert answer.status_code == 422
    assert "is already kept for parts. Nothing was changed." in answer.text
    assert not WorthDecision.objects.exists()


def test_a_set_is_offered_as_one_and_taken_whole(desk, school):
    parts_instrument, onto = make_parts_instrument(school=school), make_ready_instrument(school=school)
    assert "Pistons, 3 as a set" in desk.get(page_of(parts_instrument)).text
    take(desk, parts_instrument, offer="piston:1", onto=f" {onto.asset_number.lower()} ")
    assert TakenPart.objects.filter(onto=onto).count() == 3
    page = desk.get(page_of(parts_instrument)).text
    assert page.count("Pistons, 3 as a set") == 1  # moved from what it has to what went where


def test_whether_it_fits_is_remembered_by_model(desk, school):
    parts_instrument = make_parts_instrument(instrument=make_ready_instrument(school=school, model="B2"))
    onto = make_ready_instrument(school=school, model="B3")
    take(desk, parts_instrument, offer="bell:", onto=onto.asset_number)
    desk.post(reverse("repairs:note-fit", args=[TakenPart.objects.get().pk]), {"fit": "fits"})
    page = desk.get(reverse("repairs:parts-horns")).text
    assert "of Plain Brass Works B2 on Plain Brass Works B3" in page


def page_of_taken(name="taken-part"):
    return reverse(f"repairs:{name}", args=[TakenPart.objects.order_by("pk").first().pk])


def instrument_page(instrument):
    return reverse("desk:instrument", args=[instrument.asset_number])


def test_a_part_has_a_page_that_both_instruments_lead_to(desk, school):
    parts_instrument, onto = make_parts_instrument(school=school), make_ready_instrument(school=school)
    take(desk, parts_instrument, offer="piston:1", onto=onto.asset_number, note="Lapped together")
    for instrument in (parts_instrument.instrument, onto):
        page = desk.get(instrument_page(instrument)).text
        assert "Pistons, 3 as a set" in page
        assert page_of_taken() in page
    page = " ".join(desk.get(page_of_taken()).text.split())
    assert "Not said yet whether it fits" in page
    assert "Lapped together" in page
    for instrument in (parts_instrument.instrument, onto):
        assert instrument_page(instrument) in page
    desk.post(page_of_taken("note-fit"))
    assert ">Fits<" in "".join(desk.get(page_of_taken()).text.split())


def test_a_part_that_does_not_fit_goes_back_and_may_be_taken_again(desk, school):
    parts_instrument, onto = make_parts_instrument(school=school), make_ready_instrument(school=school)
    take(desk, parts_instrument, offer="bell:", onto=onto.asset_number)
    assert page_of_taken("part-off") in desk.get(page_of(parts_instrument)).text
    assert desk.post(page_of_taken("part-off"), {"because": "Too wide"}).status_code == 422
    answer = desk.post(page_of_taken("part-off"), {"goes": "back", "because": "Too wide"}, follow=True)
    assert f"Back on {parts_instrument.instrument.asset_number}, which no longer lacks it." in answer.text
    assert "Too wide" in answer.text
    assert page_of_taken("withdraw-taken") not in answer.text
    page = desk.get(page_of(parts_instrument)).text
    assert "take/?offer=bell%3A" in page
    assert "does not fit, back on" in page


def test_a_part_that_does_not_fit_goes_on_a_shelf_and_from_there_back(desk, school):
    parts_instrument, onto = make_parts_instrument(school=school), make_ready_instrument(school=school)
    bench, theirs = make_bench(school=school, name="Alder bench"), make_bench(school=make_school(), name="Birch bench")
    take(desk, parts_instrument, offer="bell:", onto=onto.asset_number)
    form = desk.get(page_of_taken("part-off")).text
    assert "Alder bench" in form
    assert "Birch bench" not in form
    for at in ("", theirs.pk):
        assert desk.post(page_of_taken("part-off"), {"goes": "shelf", "bench": at}).status_code == 422
    answer = desk.post(page_of_taken("part-off"), {"goes": "shelf", "bench": bench.pk}, follow=True)
    item = StockItem.objects.get()
    assert "In stock at Alder bench." in answer.text
    assert reverse("repairs:stock-item", args=[item.pk]) in answer.text
    form = desk.get(page_of_taken("part-off")).text
    assert 'name="bench"' not in form
    assert "It leaves the stock" in form
    desk.post(page_of_taken("part-off"), {"goes": "back"})
    assert StockItem.objects.get().quantity == 0


def test_a_slip_is_corrected_with_a_reason(desk, school):
    parts_instrument, onto = make_parts_instrument(school=school), make_ready_instrument(school=school)
    take(desk, parts_instrument, offer="bell:", onto=onto.asset_number)
    assert desk.post(page_of_taken("withdraw-taken"), {"because": ""}).status_code == 422
    answer = desk.post(page_of_taken("withdraw-taken"), {"because": "<b>Other horn</b>"}, follow=True)
    assert "Entered by mistake: &lt;b&gt;Other horn&lt;/b&gt;" in answer.text
    answer = desk.post(page_of_taken("withdraw-taken"), {"because": "Again"})
    assert answer.status_code == 422
    assert "entered by mistake" in answer.text
    answer = desk.post(page_of_taken("note-fit"), follow=True)
    assert "said on" in answer.text


def test_what_did_not_fit_before_anybody_asked_where_it_went_is_asked_now(desk, school):
    parts_instrument, onto = make_parts_instrument(school=school), make_ready_instrument(school=school)
    take(desk, parts_instrument, offer="bell:", onto=onto.asset_number)
    TakenPart.objects.update(fit="does_not")
    page = desk.get(page_of(parts_instrument)).text
    assert "nobody said where it went" in page
    assert "Say where it went" in page
    desk.post(page_of_taken("part-off"), {"goes": "back"})
    assert TakenPart.objects.get().went == "back"


def test_a_part_of_another_kind_is_asked_why_and_stays_typed(desk, school):
    donor = make_parts_instrument(instrument=make_ready_instrument(school=school, kind_code="sax_alto"))
    onto = make_ready_instrument(school=school, kind_code="sax_tenor")
    answer = take(desk, donor, offer="neck_tube:", onto=onto.asset_number)
    assert answer.status_code == 422
    assert "Say in the note why it fits anyway" in answer.text
    assert onto.asset_number in answer.text
    take(desk, donor, offer="neck_tube:", onto=onto.asset_number, note="Same bore")
    assert TakenPart.objects.get().note == "Same bore"


def test_a_part_page_costs_few_queries(desk, school, django_assert_max_num_queries):
    parts_instrument, onto = make_parts_instrument(school=school), make_ready_instrument(school=school)
    take(desk, parts_instrument, offer="piston:1", onto=onto.asset_number)
    desk.get(page_of_taken())
    with django_assert_max_num_queries(10):
        desk.get(page_of_taken())


@pytest.mark.parametrize("fields", [{"offer": "moon:"}, {"onto": "NOBODY-1"}, {"offer": ""}])
def test_what_it_has_not_and_a_number_nobody_has_is_asked_again(desk, school, fields):
    parts_instrument, onto = make_parts_instrument(school=school), make_ready_instrument(school=school)
    answer = take(desk, parts_instrument, **({"offer": "bell:", "onto": onto.asset_number} | fields))
    assert answer.status_code == 422
    assert not TakenPart.objects.exists()


def test_a_part_does_not_go_onto_another_schools_instrument(desk, school):
    parts_instrument, theirs = make_parts_instrument(school=school), make_ready_instrument(school=make_school())
    assert take(desk, parts_instrument, offer="bell:", onto=theirs.asset_number).status_code == 422


def test_back_in_service_it_lacks_what_was_taken(desk, school):
    whole, stripped = make_parts_instrument(school=school), make_parts_instrument(school=school)
    take(desk, stripped, offer="bell:", onto=make_ready_instrument(school=school).asset_number)
    for parts_instrument in (whole, stripped):
        desk.post(page_of(parts_instrument, "unmark-parts-horn"), {"because": "A casing turned up"})
        assert desk.get(page_of(parts_instrument)).status_code == 404
    assert Instrument.objects.get(pk=whole.instrument_id).readiness == "may_go_out"
    assert Instrument.objects.get(pk=stripped.instrument_id).readiness == "stays_in"
    assert page_of_taken() in desk.get(instrument_page(stripped.instrument)).text


def lacking(part, place="", *, school):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[(part, "missing_part", "moderate", place)])
    return make_job(instrument=Instrument.objects.get(pk=instrument.pk), bench=make_school_bench(school))


@pytest.mark.parametrize(("part", "place", "offer"), [("bell", "", "bell:"), ("piston", "2", "piston:1")])
def test_a_job_leads_to_the_parts_instrument_that_has_what_is_missing(desk, school, part, place, offer):
    donor, job = make_parts_instrument(school=school), lacking(part, place, school=school)
    bare, theirs = make_parts_instrument(school=school), make_parts_instrument(school=make_school())
    other = make_parts_instrument(instrument=make_ready_instrument(school=school, kind_code="cornet"))
    make_taken(bare, part, is_set=part == "piston", onto=make_ready_instrument(school=school))
    url = reverse("repairs:job", args=[job.pk])
    step = next(one.key for one in plan_for_job(job).steps if any(fact.part == part for fact in one.findings))
    page = desk.get(url, {"step": step}).text
    assert "Take it from a parts instrument:" in page
    for without in (bare, theirs, other):
        assert without.instrument.asset_number not in page
    link = unescape(page.partition(f'href="{page_of(donor, "take-part")}')[2].partition('"')[0])
    form = desk.get(page_of(donor, "take-part") + link).text
    assert f'<option value="{offer}" selected>' in form
    assert f'value="{job.instrument.asset_number}"' in form
    take(desk, donor, offer=offer, onto=job.instrument.asset_number)
    page = desk.get(url, {"step": step}).text
    assert "Take it from" not in page
    assert TakenPart.objects.filter(onto=job.instrument, job=job).exists()
    assert f"from {donor.instrument.asset_number}: not said yet whether it fits" in " ".join(page.split())


def test_a_job_names_a_part_of_another_school_without_a_link_that_leads_nowhere(desk, school):
    donor, job = make_parts_instrument(school=make_school()), lacking("bell", "", school=school)
    (taken,) = make_taken(donor, "bell", onto=job.instrument)
    step = next(one.key for one in plan_for_job(job).steps if any(fact.part == "bell" for fact in one.findings))
    page = desk.get(reverse("repairs:job", args=[job.pk]), {"step": step}).text
    assert f"Bell flare and rim from {donor.instrument.asset_number}: not said yet whether it fits" in " ".join(
        page.split()
    )
    assert desk.get(url := reverse("repairs:taken-part", args=[taken.pk])).status_code == 404
    assert url not in page


@pytest.mark.parametrize("is_theirs", [True, False])
def test_a_part_leads_to_the_instrument_it_went_onto_only_at_its_own_school(client, school, director, is_theirs):
    client.force_login(director)
    donor = make_parts_instrument(school=school)
    onto = make_ready_instrument(school=make_school() if is_theirs else school)
    (taken,) = make_taken(donor, "bell", onto=onto)
    url = reverse("desk:instrument", args=[onto.asset_number])
    for page in (reverse("repairs:taken-part", args=[taken.pk]), page_of(donor)):
        text = client.get(page).text
        assert str(onto) in text
        assert (f'href="{url}"' in text) is not is_theirs
    assert client.get(url).status_code == (404 if is_theirs else 200)
