"""What the tests of the bench's pages share."""

from __future__ import annotations

import re
from typing import Any

from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from repairs.models import Job
from repairs.selectors.planning import plan_for_job
from tests.factories import new_nonce
from tests.repairs.makers import fresh


def address(name: str, job: Job) -> str:
    return reverse(f"repairs:{name}", args=[job.pk])


def answer(job: Job, **overrides: Any) -> dict[str, Any]:
    """What the form of the step at hand would send."""
    step = plan_for_job(fresh(job)).next_step
    assert step is not None
    return {"step": step.key, "nonce": str(new_nonce()), "outcome": "freed" if step.rung else "done"} | overrides


def shown_cautions(page: str) -> list[str]:
    """What the form of a job's page says that it shows to be read."""
    return re.findall(r'name="shown"\s+value="([^"]+)"', page)


def queries_of(client: Any, url: str) -> int:
    client.get(url)
    with CaptureQueriesContext(connection) as caught:
        assert client.get(url).status_code == 200
    return len(caught)
