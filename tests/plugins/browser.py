"""Chromium, driven by Playwright: a page as a phone or a desk sees it, which fails on script errors and foreign addresses."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import pytest
from django.conf import settings
from django.test import Client

from scripts import bundle

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page, Playwright

PHONE = {"width": 360, "height": 780}
DESK = {"width": 1280, "height": 800}
TIMEOUT_MS = 15_000
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    # A camera and a microphone of Chromium's own, granted without a question.
    "--use-fake-device-for-media-stream",
    "--use-fake-ui-for-media-stream",
)


def chromium_path() -> str | None:
    names = (os.environ.get("HORNBOOK_CHROMIUM", ""), "chromium", "chromium-browser")
    return next((found for name in names if name and (found := shutil.which(name))), None)


def pytest_configure(config: pytest.Config) -> None:
    """Bundle what was edited since, as set-up does, before several processes ask for it."""
    if not hasattr(config, "workerinput"):
        bundle.main()
    settings.STATICFILES_DIRS = [folder for folder in (bundle.TARGET, bundle.SOURCE) if folder.is_dir()]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    folder = Path(__file__).parent.parent / "browser"
    for item in items:
        if folder in item.path.parents:
            item.add_marker("browser")


@pytest.fixture(scope="session")
def playwright_driver() -> Iterator[Playwright]:
    from playwright.sync_api import expect, sync_playwright

    if chromium_path() is None:
        pytest.skip("no Chromium here: install the package chromium")
    # Playwright runs an event loop in this thread; Django would refuse to read rows beside it.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    expect.set_options(timeout=TIMEOUT_MS)
    with sync_playwright() as driver:
        yield driver
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


@pytest.fixture(scope="session")
def launch(playwright_driver: Playwright) -> Callable[..., Browser]:
    """Start a Chromium with further flags (a film for its camera, say); the caller closes it."""

    def start(*flags: str) -> Browser:
        return playwright_driver.chromium.launch(executable_path=chromium_path(), args=[*FLAGS, *flags])

    return start


@pytest.fixture(scope="session")
def chromium(launch: Callable[..., Browser]) -> Iterator[Browser]:
    browser = launch()
    yield browser
    browser.close()


@dataclass
class Watch:
    """What went wrong on a page without a test looking for it."""

    home: str
    errors: list[str] = field(default_factory=list)

    def follow(self, page: Page) -> None:
        page.on("pageerror", lambda error: self.errors.append(f"script: {error}"))
        page.on("console", self._console)
        page.on("request", self._request)

    def _console(self, message: Any) -> None:
        if message.type == "error" and "Content Security Policy" in message.text:
            self.errors.append(f"policy: {message.text}")

    def _request(self, request: Any) -> None:
        address = urlsplit(request.url)
        if address.scheme in {"http", "https", "ws", "wss"} and address.netloc != urlsplit(self.home).netloc:
            self.errors.append(f"foreign address: {request.url}")


def log_in(context: BrowserContext, *, user: Any, home: str) -> None:
    """Give the browser a session of the user, without the log-in page."""
    client = Client()
    client.force_login(user, backend="core.access.RoleBackend")
    name = settings.SESSION_COOKIE_NAME
    context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": home}])


def filled_in(page: Page) -> None:
    """Wait until the page has filled in again what waited on the device, or found nothing."""
    page.locator("body[data-filled-in]").wait_for()


def until(page: Page, is_so: Callable[[], bool], *, seconds: int = 15) -> None:
    """Wait for something that no locator sees; the page's policy allows no waiting by text of a script."""
    for _ in range(seconds * 10):
        if is_so():
            return
        page.wait_for_timeout(100)
    raise AssertionError("it did not come about")


@pytest.fixture
def open_page(chromium: Browser, live_server: Any) -> Iterator[Callable[..., Page]]:
    """Return ``open_page(user=None, viewport=PHONE, **context)``: a page on the running server, watched until the end.

    ``page.goto("/path")`` is relative to the server.
    """
    watch = Watch(home=live_server.url)
    contexts: list[BrowserContext] = []

    def start(*, user: Any = None, viewport: dict[str, int] | None = None, **options: Any) -> Page:
        size = viewport or PHONE
        options.setdefault("has_touch", size == PHONE)
        options.setdefault("service_workers", "block")  # each context would fetch every file of ours
        context = chromium.new_context(base_url=live_server.url, viewport=size, **options)
        contexts.append(context)
        context.set_default_timeout(TIMEOUT_MS)
        context.on("page", watch.follow)
        if user is not None:
            log_in(context, user=user, home=live_server.url)
        return context.new_page()

    yield start
    for context in contexts:
        context.close()
    assert watch.errors == []
