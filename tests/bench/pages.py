"""Server time and queries of the pages, through the whole of the middleware, as somebody logged in."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterable, Iterator
from functools import partial
from itertools import cycle
from time import perf_counter
from typing import Any

from django.db import connection
from django.db.models import Count
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import URLResolver, get_resolver, reverse

from core.models import User
from inventory.catalog.load import catalog
from inventory.models import Instrument, Tag, Verdict, Whereabouts
from loans.models import Loan, Student
from repairs.models import Bench, Job
from repairs.rules.facts import cleaners_for
from repairs.rules.plan import SHOP_TRIP, soaked_in
from repairs.selectors.planning import plan_for_job
from tests.bench.figures import Figure, middle, p95, times
from tests.bench.rows import Big
from tests.bench.sections import Run
from tests.permission_matrix import holders_of

PAGE_MS = 150.0
SLOW_S = 2.0  # a page that takes longer is not asked for fifty times
FILES = (".pdf", ".csv", ".xlsx", "export/")
NEXT_STEP = "next step: an outcome posted"
ZIPPED = {"accept-encoding": "gzip"}
REGISTER = {
    "as it opens": "",
    "by verdict": "?sort=-verdict",
    "by school": "?sort=school",
    "by maker": "?sort=maker",
    "by readiness": "?sort=readiness",
    "last page": "?page={last}",
    "last page by maker": "?sort=maker&page={last}",
    "trumpets": "?kind=trumpet&sort=-verdict",
    "silent": "?verdict=does_not_play&sort=kind",
    "ready": "?readiness=ready&sort=maker",
    "words": "?q=vale&page=2",
    "words that nothing fits": "?q=zzzz",
}


class WrongAnswerError(AssertionError):
    """A page that was to be measured did not answer as it should; its time would mean nothing."""


def client_of(user: User) -> Client:
    client = Client(headers=ZIPPED)
    client.force_login(user, backend="core.access.RoleBackend")
    return client


def answered(response: Any, code: int) -> Any:
    if response.status_code != code:
        raise WrongAnswerError(f"{response.request['PATH_INFO']}: {response.status_code} instead of {code}")
    return response


def measured(  # one page
    what: str, call: Callable[[], Any], *, runs: int, most_ms: float | None = None, most_queries: int | None = None,
    most_bytes: int | None = None,
) -> Figure:  # fmt: skip
    """Time the calls, then count the queries and the bytes of each of five more and keep the most."""
    started = perf_counter()
    call()
    is_slow = perf_counter() - started > SLOW_S
    taken = times(call, runs=3 if is_slow else runs, warm=1 if is_slow else 3)
    counts, sizes = [], []
    for _ in range(1 if is_slow else 5):
        with CaptureQueriesContext(connection) as captured:
            sizes.append(len(call().content))
        counts.append(len(captured))
    note = "3 runs" if is_slow else ""
    return Figure(
        what,
        middle(taken),
        p95(taken),
        max(counts),
        most_ms,
        most_queries,
        note,
        bytes=max(sizes),
        most_bytes=most_bytes,
    )


def page(client: Client, addresses: list[str], *, code: int = 200) -> Callable[[], Any]:
    """Return a call that opens the addresses in turn, so that no single row's luck is measured."""
    turn = cycle(addresses)
    return lambda: answered(client.get(next(turn)), code)


def plain_pages(resolver: URLResolver | None = None, prefix: str = "") -> Iterator[tuple[str, str]]:
    """Every page of staff whose address holds no key of a row, files excepted: (name, permission)."""
    for entry in (resolver or get_resolver()).url_patterns:
        if isinstance(entry, URLResolver):
            yield from plain_pages(entry, f"{prefix}{entry.namespace}:" if entry.namespace else prefix)
            continue
        view = getattr(entry.callback, "view_class", None)
        is_file = str(entry.pattern).endswith(FILES)
        if view is not None and not entry.pattern.converters and hasattr(view, "get") and not is_file:
            permission = getattr(view, "permission_required", None)
            if permission:
                yield f"{prefix}{entry.name}", permission


def section(run: Run) -> Iterator[Figure]:
    """Every page for each role that may open it, or those whose name holds a word that was asked for."""
    for one in pages_of(run):
        if run.holds(one.args[0]):
            yield one()
    if run.holds(NEXT_STEP):
        yield next_step(run.big, client=client_of(run.big.people["tech"]), runs=run.runs)


def pages_of(run: Run) -> Iterator[partial[Figure]]:
    """The director has the pages of one school, the others those of the whole district."""
    big, runs = run.big, run.runs
    clients = {role: client_of(user) for role, user in big.people.items()}
    director, auditor = clients["director"], clients["auditor"]
    yield from scans(big, director=director, runs=runs)
    for who, client in (("one school", director), ("district", auditor)):
        for what, query in REGISTER.items():
            address = reverse("inventory:list") + query.format(last=last_page(big, who))
            yield partial(measured, f"register, {what}, {who}", page(client, [address]), runs=runs, most_ms=PAGE_MS)
    for name, permission in plain_pages():
        roles = holders_of(permission)
        wide = next((role for role in ("tech", "auditor", "administrator") if role in roles), None)
        for role in {*roles} if name == "desk:today" else {"director", wide} & {*roles}:
            client = clients[str(role)]
            if client.get(reverse(name)).status_code == 200:
                yield partial(measured, f"{name}, {role}", page(client, [reverse(name)]), runs=runs, most_ms=PAGE_MS)
    for what, role, addresses in rows_of(big, count=runs * 2):
        if len(addresses) > 1 and clients[role].get(addresses[0]).status_code != 200:
            continue
        yield partial(measured, what, page(clients[role], addresses), runs=runs, most_ms=PAGE_MS)


def last_page(big: Big, who: str) -> int:
    rows = Instrument.objects.present()
    return max(1, (rows.filter(school=big.schools[0]) if who == "one school" else rows).count() // 50)


def scans(big: Big, *, director: Client, runs: int) -> Iterator[partial[Figure]]:
    own = Instrument.objects.filter(school=big.schools[0])
    tags = Tag.objects.live().filter(instrument__in=own)[: runs * 2]
    tokens = [reverse("desk:tag", args=[tag.token]) for tag in tags]
    typed = [f"{reverse('desk:find')}?text={row.asset_number}" for row in own[: runs * 2]]
    for what, call in (
        ("scan: the tag's address, to the instrument", page(director, tokens, code=302)),
        ("scan: the number typed", page(director, typed, code=302)),
        ("tag page, for the public", page(Client(headers=ZIPPED), tokens)),
    ):
        yield partial(measured, what, call, runs=runs, most_ms=60, most_queries=15)
    for name, rows in (
        ("with findings, in store", own.exclude(verdict=Verdict.PLAYS).filter(whereabouts=Whereabouts.IN_STORE)),
        ("plays, with a student", own.filter(verdict=Verdict.PLAYS, whereabouts=Whereabouts.WITH_STUDENT)),
        ("on the bench", own.filter(whereabouts=Whereabouts.ON_BENCH)),
    ):
        addresses = [reverse("desk:instrument", args=[row.asset_number]) for row in rows[: runs * 2]]
        yield partial(
            measured, f"instrument page, {name}", page(director, addresses), runs=runs, most_ms=60, most_queries=15,
            most_bytes=25_000,
        )  # fmt: skip


def rows_of(big: Big, *, count: int) -> Iterator[tuple[str, str, list[str]]]:
    """Pages of single rows and lists with something chosen: (what, role, addresses)."""
    school = big.schools[0]
    own = Instrument.objects.filter(school=school)
    numbers = list(own.values_list("asset_number", flat=True)[:count])
    kinds = own.values("kind_code").annotate(count=Count("pk")).order_by("-count")
    kind = kinds[0]["kind_code"]
    bench = Bench.objects.filter(school=school)[0]

    def each(name: str, keys: Iterable[Any]) -> list[str]:
        return [reverse(name, args=[key]) for key in list(keys)[:count]]

    for role in ("director", "tech"):
        yield f"a care day, {role}", role, [reverse("repairs:care-day", args=[school.code, kind])]
    yield "a job", "tech", each("repairs:job", Job.objects.open().values_list("pk", flat=True)[:count])
    yield "jobs, closed", "tech", [reverse("repairs:jobs") + "?state=closed"]
    yield "jobs, closed, last page", "tech", [reverse("repairs:jobs") + "?state=closed&page=100000"]
    yield "a bench", "tech", [reverse("repairs:bench", args=[bench.code])]
    yield "stock of a bench", "tech", [reverse("repairs:bench-stock", args=[bench.code])]
    yield "shopping for a bench", "tech", [reverse("repairs:shopping", args=[bench.code])]
    yield "what to do with one", "director", each("repairs:worth", numbers)
    yield "bench review, three years, tech", "tech", [reverse("repairs:season") + "?span=1095"]
    yield "bench review, three months, tech", "tech", [reverse("repairs:season") + "?span=90"]
    yield "care of one school, tech", "tech", [reverse("repairs:care") + f"?school={school.pk}"]
    for role in ("director", "auditor"):
        yield f"loans, returned, {role}", role, [reverse("loans:list") + "?state=returned"]
        yield f"loans, late, {role}", role, [reverse("loans:list") + "?state=late"]
        for column in ("student", "school", "kind"):
            yield f"loans, by {column}, {role}", role, [reverse("loans:list") + f"?sort=-{column}"]
    yield (
        "a loan",
        "director",
        each("loans:loan", Loan.objects.filter(instrument__in=own).values_list("pk", flat=True)[:count]),
    )
    yield (
        "a student",
        "director",
        each("loans:student", Student.objects.filter(school=school).values_list("pk", flat=True)[:count]),
    )
    for name in ("edit", "donation", "inspect", "play-test", "trend", "whereabouts", "accessories", "photos", "tags"):
        yield f"an instrument: {name}", "director", each(f"inventory:{name}", numbers)
    stays = own.filter(whereabouts=Whereabouts.IN_STORE).values_list("asset_number", flat=True)[:count]
    yield "whom it suits", "director", each("desk:fit", stays)


def next_step(big: Big, *, client: Client, runs: int) -> Figure:
    """Post an outcome on one job after another: the step is kept, the plan made again, the phone sent to the next.

    Which step is next is looked up, and its cautions read, before the clock starts: what one outcome teaches may change
    the plan of another job.
    """
    taken, counts = [], []
    for job in Job.objects.open().for_table().order_by("pk"):
        plan = plan_for_job(job)
        step = plan.next_step
        if step is None or step.method in {"play_test", SHOP_TRIP} or soaked_in(plan, step.method):
            continue
        if step.acknowledgements:
            shown = [one.key for one in step.acknowledgements]
            read = {"step": step.key, "shown": shown, "nonce": str(uuid.uuid4())}
            answered(client.post(reverse("repairs:cautions", args=[job.pk]), read), 302)
        form = {"step": step.key, "outcome": "still_stuck" if step.rung else "done", "nonce": str(uuid.uuid4())}
        if cleaners := cleaners_for(step.method, kind=job.instrument.kind, catalog=catalog()):
            form["product"] = cleaners[0].code
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
    return Figure(NEXT_STEP, middle(taken), p95(taken), max(counts), most_ms=100)
