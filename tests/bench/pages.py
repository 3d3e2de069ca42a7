"""Server time and queries of the pages, through the whole of the middleware, as somebody logged in."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from itertools import cycle
from time import perf_counter
from typing import Any

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from core.models import User
from inventory.models import Instrument, Tag, Verdict, Whereabouts
from repairs.models import Job
from repairs.selectors.planning import plan_for_job
from tests.bench.figures import Figure, middle, p95, times
from tests.bench.rows import Big


class WrongAnswerError(AssertionError):
    """A page that was to be measured did not answer as it should; its time would mean nothing."""


def client_of(user: User) -> Client:
    client = Client()
    client.force_login(user, backend="core.access.RoleBackend")
    return client


def answered(response: Any, code: int) -> Any:
    if response.status_code != code:
        raise WrongAnswerError(f"{response.request['PATH_INFO']}: {response.status_code} instead of {code}")
    return response


def measured(  # one page
    what: str, call: Callable[[], object], *, runs: int, most_ms: float | None = None, most_queries: int | None = None
) -> Figure:
    """Time the calls, then count the queries of each of five more and keep the most."""
    taken = times(call, runs=runs)
    counts = []
    for _ in range(5):
        with CaptureQueriesContext(connection) as captured:
            call()
        counts.append(len(captured))
    return Figure(what, middle(taken), p95(taken), max(counts), most_ms, most_queries)


def page(client: Client, addresses: list[str], *, code: int = 200) -> Callable[[], object]:
    """Return a call that opens the addresses in turn, so that no single row's luck is measured."""
    turn = cycle(addresses)
    return lambda: answered(client.get(next(turn)), code)


def pages(big: Big, *, runs: int) -> Iterator[Figure]:
    director, tech, auditor = (client_of(big.people[role]) for role in ("director", "tech", "auditor"))
    own = Instrument.objects.filter(school=big.schools[0])
    tags = Tag.objects.live().filter(instrument__in=own)[: runs * 2]
    tokens = [reverse("desk:tag", args=[tag.token]) for tag in tags]
    typed = [f"{reverse('desk:find')}?text={row.asset_number}" for row in own[: runs * 2]]
    yield measured(
        "scan: the tag's address, to the instrument",
        page(director, tokens, code=302),
        runs=runs,
        most_ms=60,
        most_queries=15,
    )
    yield measured("scan: the number typed", page(director, typed, code=302), runs=runs, most_ms=60, most_queries=15)
    yield measured("scan page (camera)", page(director, [reverse("desk:scan")]), runs=runs, most_ms=60, most_queries=15)
    yield measured("tag page, for the public", page(Client(), tokens), runs=runs, most_ms=60, most_queries=15)
    for name, rows in (
        ("with findings, in store", own.exclude(verdict=Verdict.PLAYS).filter(whereabouts=Whereabouts.IN_STORE)),
        ("plays, with a student", own.filter(verdict=Verdict.PLAYS, whereabouts=Whereabouts.WITH_STUDENT)),
        ("on the bench", own.filter(whereabouts=Whereabouts.ON_BENCH)),
    ):
        addresses = [reverse("desk:instrument", args=[row.asset_number]) for row in rows[: runs * 2]]
        yield measured(f"instrument page, {name}", page(director, addresses), runs=runs, most_ms=60, most_queries=15)
    yield from lists(big, director=director, auditor=auditor, runs=runs)
    for who, client in (("director", director), ("tech of the district", tech), ("auditor", auditor)):
        yield measured(f"first page of the {who}", page(client, [reverse("desk:today")]), runs=runs)
    yield measured("loans that are out", page(director, [reverse("loans:list")]), runs=runs)
    yield measured("jobs with their next step", page(tech, [reverse("repairs:jobs")]), runs=runs)
    yield next_step(big, client=tech, runs=runs)


def lists(big: Big, *, director: Client, auditor: Client, runs: int) -> Iterator[Figure]:
    """The register, of one school and of the whole district, filtered and sorted in several ways."""
    ways = [
        "?sort=asset_number",
        "?kind=trumpet&sort=-verdict",
        "?verdict=does_not_play&sort=kind",
        "?readiness=ready&sort=maker",
        "?q=vale&page=2",
    ]
    addresses = [reverse("inventory:list") + way for way in ways]
    for who, client in (("one school", director), (f"all {big.counts['instruments']:,}", auditor)):
        yield measured(f"register filtered and sorted, {who}", page(client, addresses), runs=runs, most_ms=120)


def next_step(big: Big, *, client: Client, runs: int) -> Figure:
    """Post an outcome on one job after another: the step is kept, the plan made anew, the phone sent to the next.

    Which step is next is looked up before the clock starts: what one outcome teaches may change the plan of another job.
    """
    taken, counts = [], []
    for job in Job.objects.open().for_table().order_by("pk"):
        step = plan_for_job(job).next_step
        if step is None or step.method == "play_test":
            continue
        form = {"step": step.key, "outcome": "still_stuck" if step.rung else "done", "nonce": str(uuid.uuid4())}
        address = reverse("repairs:do-step", args=[job.pk])
        if len(counts) < 5:
            with CaptureQueriesContext(connection) as captured:
                answered(client.post(address, form), 302)
            counts.append(len(captured))
        else:
            started = perf_counter()
            answered(client.post(address, form), 302)
            taken.append((perf_counter() - started) * 1000.0)
        if len(taken) == runs:
            break
    return Figure("next step: an outcome posted", middle(taken), p95(taken), max(counts), most_ms=100)
