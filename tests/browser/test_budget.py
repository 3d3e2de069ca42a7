"""What the first view of a page on a phone may cost.

The figures are our own budget: 150 kB is three seconds at the 400 kbit/s of Chromium's "Slow 3G"; 20 requests are three
rounds over the six connections that a browser opens to a server by HTTP/1.1.
"""

from __future__ import annotations

from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest
from django.test.testcases import LiveServerThread
from django.urls import reverse

from inventory.models import Purpose
from inventory.services.inspecting import start_inspection
from tests.factories import NOW, make_instrument
from tests.loans.makers import make_loan
from tests.plugins.browser import PHONE, log_in, until
from tests.repairs.makers import make_job

MOST_BYTES, MOST_REQUESTS = 150_000, 20
UNSEEN = 1  # the manifest, which a browser without a window does not ask for


@pytest.fixture
def as_served(transactional_db, settings) -> Iterator[str]:
    """The server as users meet it: files through the middleware, compressed, not by the handler that tests have."""
    settings.WHITENOISE_USE_FINDERS = True
    server = LiveServerThread("127.0.0.1", static_handler=lambda application: application)
    server.daemon = True
    server.start()
    server.is_ready.wait()
    assert server.error is None
    yield f"http://127.0.0.1:{server.port}"
    server.terminate()


@pytest.fixture
def addresses(transactional_db, school, director, tech) -> list[str]:
    """Today, register, instrument, walk, bench and loans, with as many rows as a page shows at first."""
    for number in range(12):
        make_instrument(school=school, asset_number=f"TV-{number}")
    make_loan(school=school)
    sax = make_instrument(school=school, kind_code="sax_alto", asset_number="TV-ALTO")
    walk = start_inspection(instrument=sax, purpose=Purpose.INTAKE, actor=director, at=NOW)
    return [
        reverse("desk:today"),
        reverse("inventory:list"),
        reverse("desk:instrument", args=[sax.asset_number]),
        reverse("inventory:walk", args=[walk.pk]),
        reverse("repairs:job", args=[make_job(school=school, actor=tech).pk]),
        reverse("loans:list"),
    ]


def test_the_first_view_of_the_main_pages_is_small(as_served, addresses, chromium, director):
    over = {}
    for address in addresses:
        context = chromium.new_context(base_url=as_served, viewport=PHONE, service_workers="block")  # nothing cached
        log_in(context, user=director, home=as_served)
        page = context.new_page()
        devtools = context.new_cdp_session(page)
        asked, sent = [], []
        devtools.on("Network.requestWillBeSent", lambda event, asked=asked: asked.append(event["request"]["url"]))
        devtools.on("Network.loadingFinished", lambda event, sent=sent: sent.append(event["encodedDataLength"]))
        devtools.send("Network.enable")
        answer = page.goto(address, wait_until="networkidle")
        assert answer.status == 200
        assert urlsplit(page.url).path == address
        until(page, lambda asked=asked, sent=sent: len(sent) == len(asked) > 8)  # each was answered, and is counted
        if sum(sent) > MOST_BYTES or len(asked) + UNSEEN > MOST_REQUESTS:
            over[address] = (round(sum(sent)), asked)
        context.close()
    assert over == {}
