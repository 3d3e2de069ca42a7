from __future__ import annotations

from tests.repairs.makers import make_job
from tests.repairs.views.pages import address


def test_the_bench_sheet_is_a_pdf_named_after_the_horn(client, school, tech):
    client.force_login(tech)
    job = make_job(school=school, actor=tech)
    response = client.get(address("sheet", job))
    assert response.headers["Content-Type"] == "application/pdf"
    assert response.content.startswith(b"%PDF")
    assert f"bench-sheet-{job.instrument.asset_number}.pdf" in response.headers["Content-Disposition"]
