"""A person's hand at a page. It counts taps, typed characters and signatures; what the page makes it wait is measured apart.

A test holds ``counted_seconds`` against its limit, which no busy machine can change. ``make bench`` reads the waits as well:
tests marked ``counted`` hand both over as properties of the test report.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from time import perf_counter
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

TAP, CHARACTER = 1.0, 0.3  # seconds of a person
SIGNATURE = 4.0  # likewise; a guess of ours, no source
LEAST_TARGET = 44  # pixels
BETWEEN_TAPS_MS = 350  # a finger is no faster; a page takes two taps within 300 ms for one


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """In the browser alone, counted tests come first: they take longest, and the last one would keep a core waiting."""
    if all(item.get_closest_marker("browser") for item in items):
        items.sort(key=lambda item: item.get_closest_marker("counted") is None)


@dataclass
class Hand:
    """Taps, types and signs on one page."""

    page: Page
    taps: list[str] = field(default_factory=list)
    characters: int = 0
    signatures: int = 0
    waited_seconds: float = 0.0

    def tap(self, what: Locator | str) -> None:
        """Tap a thing, or the button of that name."""
        self._touch(what)
        self.page.wait_for_timeout(BETWEEN_TAPS_MS)

    def go(self, what: Locator | str) -> None:
        """Tap what leads to another page, and wait until that has come: a new page takes the next tap at once."""
        with self.page.expect_navigation():
            self._touch(what)

    def _touch(self, what: Locator | str) -> None:
        target = (self.page.get_by_role("button", name=what, exact=True) if isinstance(what, str) else what).first
        target.scroll_into_view_if_needed()
        box = target.bounding_box()
        assert box is not None
        assert box["height"] >= LEAST_TARGET, f"{what} is {box['height']} px high"
        self.wait(target.tap)
        self.taps.append(str(what))

    def type(self, text: str, *, into: Locator | None = None) -> None:
        if into is not None:
            self.tap(into)
        self.page.keyboard.type(text)
        self.characters += len(text)

    def scan(self, text: str) -> None:
        """Let a scanner type a tag into the field that has the focus: it ends with Enter, and takes a person a second."""
        self.page.keyboard.insert_text(text)
        self.page.keyboard.press("Enter")
        self.taps.append(f"scan {text}")

    def choose(self, target: Locator, label: str) -> None:
        """Open the list, tap one of it."""
        self.tap(target)
        target.select_option(label=label)
        self.taps.append(label)

    def sign(self, field_id: str) -> None:
        pad = self.page.locator(f'canvas[data-for="{field_id}"]')
        pad.scroll_into_view_if_needed()
        box = pad.bounding_box()
        assert box is not None
        mouse = self.page.mouse
        mouse.move(box["x"] + 30, box["y"] + 90)
        mouse.down()
        for step in range(24):
            mouse.move(box["x"] + 30 + 9 * step, box["y"] + 60 + 50 * (step % 2))
        mouse.up()
        self.signatures += 1

    def wait(self, act: Callable[[], object]) -> None:
        """Do what ends when the page is ready, and add the time it took to the waits."""
        started = perf_counter()
        act()
        self.waited_seconds += perf_counter() - started

    @property
    def counted_seconds(self) -> float:
        """Return the seconds of the person alone, waits left out."""
        return len(self.taps) * TAP + self.characters * CHARACTER + self.signatures * SIGNATURE


class Finger(Hand):
    """A hand that knows the inspection walk."""

    @property
    def stop(self) -> Locator:
        return self.page.locator("[data-stop]:not([hidden])")

    def at(self) -> str:
        return self.stop.get_attribute("data-stop") or ""

    def enter(self, fault: str, severity: str, *places: str) -> None:
        self.tap(self.page.get_by_role("link", name="Something is wrong"))
        self.tap(self.stop.locator(f'.fault-name:has(input[value="{fault}"])'))
        for place in filter(None, places):
            self.tap(self.stop.locator(f'.places label:has(input[value="{place}"])'))
        self.tap(self.stop.locator(f'.fault:has(input[value="{fault}"]) button[value="{severity}"]'))

    def finish(self) -> None:
        self.tap("All there")
        self.tap("Finish and see the verdict")
        self.page.wait_for_selector(".page-head .verdict-big")


@pytest.fixture
def counted_hand(record_property: Callable[[str, object], None]) -> Iterator[Callable[..., Hand]]:
    """Return ``counted_hand(page, make=Hand)``: a hand whose count stands in the test report."""
    hands: list[Hand] = []

    def start(page: Page, make: type[Hand] = Hand) -> Hand:
        hands.append(make(page))
        return hands[-1]

    yield start
    for hand in hands:
        record_property("taps", len(hand.taps))
        record_property("characters", hand.characters)
        record_property("counted_seconds", hand.counted_seconds)
        record_property("waited_seconds", hand.waited_seconds)
