"""The page of a swap."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from zeal import zeal_ignore

from loans.models import Loan
from loans.selectors.agreements import current_terms
from tests.factories import make_bench, make_ready_instrument
from tests.loans.makers import ink_address, make_loan


@pytest.fixture
def desk(client, director):
    client.force_login(director)
    return client


def test_from_the_loan_to_the_spare_and_back_by_links(desk, school):
    loan, bench = make_loan(school=school), make_bench(school=school)
    address = reverse("desk:swap", args=[loan.instrument.asset_number])
    assert address in desk.get(reverse("loans:loan", args=[loan.pk])).text
    assert address in desk.get(reverse("desk:instrument", args=[loan.instrument.asset_number])).text
    assert "No other of its kind" in desk.get(address).text
    spare = make_ready_instrument(school=school)
    make_ready_instrument(serial="elsewhere")
    page = desk.get(address)
    assert list(page.context["form"].spares) == [spare.asset_number]
    assert desk.post(address, {"spare": spare.asset_number}).status_code == 422
    typed = {"spare": spare.asset_number, "found": "same", "to": "bench", "bench": bench.pk, "because": "leaks",
             "all_here": "on", "keeps": ["mouthpiece"], "terms": current_terms().key, "signed": "screen",
             "student_signature": ink_address(), "guardian_signature": ink_address(),
             "guardian_signer": "Gale"}  # fmt: skip
    assert page.context["form"]["signed"].value() == "later"
    assert 'name="due_on"' not in page.text
    Loan.objects.filter(pk=loan.pk).update(due_on=loan.lent_on)
    assert 'name="due_on"' in desk.get(address).text
    assert "Say when the spare is due back" in desk.post(address, typed).text
    typed["due_on"] = (timezone.localdate() + timedelta(days=30)).isoformat()
    with zeal_ignore():  # two instruments, each read once
        done = desk.post(address, typed, follow=True).text
    assert f"{spare.asset_number} is lent in place of {loan.instrument.asset_number}" in done
    assert reverse("loans:loan", args=[loan.pk]) in done
    new = Loan.objects.get(in_place_of=loan)
    assert (new.due_on.isoformat(), new.agreement.guardian_signer) == (typed["due_on"], "Gale")
    assert reverse("loans:loan", args=[new.pk]) in desk.get(reverse("loans:loan", args=[loan.pk])).text
    assert "It is not out on loan" in desk.get(address).text


def test_the_spare_is_scanned(desk, school):
    loan, other = make_loan(school=school), make_ready_instrument(school=school, kind_code="tuba")
    for _ in range(2):
        spare = make_ready_instrument(school=school)
    address = reverse("desk:swap", args=[loan.instrument.asset_number])
    scan = f"{reverse('desk:scan')}?then=swap:{loan.instrument.asset_number}"
    assert f'href="{scan}"' in desk.get(address).text
    page = desk.get(scan)
    assert "Scan the spare that goes out" in page.text
    find = {"then": page.context["then"], "text": spare.asset_number}
    page = desk.get(reverse("desk:find"), find, follow=True)
    assert page.redirect_chain[0][0] == f"{address}?spare={spare.asset_number}"
    assert f'<option value="{spare.asset_number}" selected>' in page.text
    page = desk.get(reverse("desk:find"), find | {"text": other.asset_number}, follow=True)
    assert f"{other.asset_number} cannot go out in its place" in " ".join(page.text.split())
    assert " selected>" not in page.text.partition('name="spare"')[2].partition("</select>")[0]
    shown = desk.get(reverse("desk:find"), {"then": "swap:a/b", "text": spare.asset_number})
    assert shown["Location"] == reverse("desk:instrument", args=[spare.asset_number])
