"""The fieldwork of a sample on a phone: number by number, to its conclusion."""

from __future__ import annotations

from django.urls import reverse

from inventory.models import Tag
from tests.inventory.sample_makers import make_sample


def test_a_sample_is_examined_number_by_number_and_finished(transactional_db, school, auditor, open_page):
    sample = make_sample(school=school, actor=auditor)  # three of eight
    first, second, third = sample.items.select_related("instrument")
    page = open_page(user=auditor)
    page.goto(reverse("desk:sample", args=[sample.pk]))
    token = Tag.objects.get(instrument=second.instrument).token
    for typed, answer in ((first.number, "as_recorded"), (token, "deviates"), (third.number, "not_found")):
        page.locator("input[name=text]").fill(typed)
        page.keyboard.press("Enter")
        page.locator("#examine").wait_for()
        if answer == "deviates":
            page.get_by_label("Note").fill("The serial on the bell ends in 8.")
        page.locator(f"button[value={answer}]").tap()
        page.wait_for_url(lambda url: url.endswith(reverse("desk:sample", args=[sample.pk])))
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.get_by_role("button", name="Finish the sample").tap()
    page.locator("#conclusion").wait_for()
    sample.refresh_from_db()
    assert sample.is_finished
    assert [item.result for item in sample.items.all()] == ["as_recorded", "deviates", "not_found"]
