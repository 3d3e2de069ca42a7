"""Takes the pictures of the README and the guide: loads the demo in a temporary folder, serves it, and looks at it as people do.

``make shots`` writes ``docs/shots/*.png``, and for the guide ``static/guide/*.webp`` with those in Spanish below ``es``. The demo's
day is fixed, so that the same code gives the same pictures. Names after it take these alone.
"""

from __future__ import annotations

import io
import os
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image
from playwright.sync_api import sync_playwright

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

ROOT = Path(__file__).resolve().parent.parent
SHOTS = ROOT / "docs" / "shots"
GUIDE = ROOT / "static" / "guide"
PHONE, DESK = {"width": 360, "height": 780}, {"width": 1280, "height": 800}
SHORT = {"width": 360, "height": 560}  # what a page of the guide has room for
LANGUAGES = {"": "en-US", "es": "es-MX"}  # folder of the guide's pictures -> language of the browser
MOST_BYTES = 150_000
MOST_GUIDE_BYTES = 15_000
SETTLES_MS = 1000  # until scripts have drawn what they draw
PASSWORD = "open-the-water-key"  # noqa: S105  # the demo's, printed by make demo
EUPHONIUM = "TV-0223"  # of the gift: on the bench, its third slide stuck
FLAGS = ("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync")  # fmt: skip


@dataclass(frozen=True, slots=True)
class Shot:
    """One picture: whose, where, how large, and what to do before it is taken."""

    name: str
    user: str  # "" for the public
    path: str
    size: dict[str, int]
    prepare: Callable[[Page], None] | None = None


def open_job(page: Page) -> None:
    """From the euphonium's page to its job."""
    page.locator(".bar .btn-main").first.click()
    page.wait_for_load_state()


def begin_walk(page: Page) -> None:
    """From the choice of purpose to the first part."""
    for name in (r"spot check", r"^(begin|start)", r"safe", r"yes"):
        found = page.get_by_role("button", name=re.compile(name, re.IGNORECASE))
        if found.count():
            found.first.click()
            page.wait_for_load_state()


def go_on(page: Page) -> None:
    """To the first part of a walk, begun before or not, in any language."""
    if "/inspect/" in page.url:
        page.locator(".btn-main:visible").first.click()
        page.wait_for_load_state()
    safe = page.locator("[data-key='Y']:visible")
    if safe.count():
        safe.first.click()
        page.wait_for_timeout(SETTLES_MS)


def say_wrong(page: Page) -> None:
    """To the faults of the first part, and how bad one of them is."""
    go_on(page)
    page.locator("#answers [data-key='N']").click()
    page.wait_for_timeout(SETTLES_MS)
    page.locator(".faults:visible input[name=fault]").first.check(force=True)


SHOT_LIST = (
    Shot("today-phone", "director", "/", PHONE),
    Shot("today-desk", "director", "/", DESK),
    Shot("instrument-phone", "tech", f"/i/{EUPHONIUM}/", PHONE),
    Shot("instrument-desk", "tech", f"/i/{EUPHONIUM}/", DESK),
    Shot("walk-phone", "tech", "/instruments/TV-0001/inspect/?purpose=spot", PHONE, begin_walk),
    Shot("step-phone", "tech", f"/i/{EUPHONIUM}/", PHONE, open_job),
    Shot("register-desk", "auditor", "/instruments/?verdict=plays_with_limits", DESK),
    Shot("lend-phone", "director", "LEND", PHONE),
    Shot("tag-phone", "", "TAG", PHONE),
)
GUIDE_LIST = (  # named as the pages of the guide
    Shot("first-week", "administrator", "/first-steps/", SHORT),
    Shot("find", "tech", f"/i/{EUPHONIUM}/", SHORT),
    Shot("labels", "director", "/instruments/labels/", SHORT),
    Shot("inspect", "tech", "/instruments/TV-0001/inspect/?purpose=spot", SHORT, go_on),
    Shot("severity", "tech", "/instruments/TV-0001/inspect/?purpose=spot", SHORT, say_wrong),
    Shot("play-test", "tech", "/instruments/TV-0001/play-test/", SHORT),
    Shot("bench", "tech", f"/i/{EUPHONIUM}/", SHORT, open_job),
    Shot("care", "tech", "/bench/care/", SHORT),
    Shot("hand-out", "director", "/hand-out/", SHORT),
    Shot("give-back", "director", "/give-back/", SHORT),
    Shot("counting", "director", "/counts/", SHORT),
    Shot("season", "director", "/season/?goal=priority", SHORT),
    Shot("value", "auditor", "/condition/", SHORT),
    Shot("people", "administrator", "/instruments/people/", SHORT),
    Shot("parts", "tech", "/bench/stock/alder-bench/", SHORT),
    Shot("shop", "tech", "/bench/shops/orders/2/", SHORT),
    Shot("students", "director", "/loans/students/", SHORT),
    Shot("money", "director", "/loans/accounts/", SHORT),
    Shot("sampling", "auditor", "/samples/2/", SHORT),
    Shot("leaving", "director", "/leave/TV-0020/", SHORT),
    Shot("offline", "tech", "/offline/", SHORT),
    Shot("auditor", "auditor", "/log/", SHORT),
    Shot("log-in", "tech", "/me/", SHORT),
)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def environment(folder: str, port: int) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith("HORNBOOK_")}
    return kept | {
        "DATABASE_URL": f"sqlite:///{folder}/demo.sqlite3",
        "HORNBOOK_VAR_DIR": folder,
        "HORNBOOK_MEDIA_DIR": folder,
        "HORNBOOK_PUBLIC_ADDRESS": f"http://127.0.0.1:{port}",
    }


@contextmanager
def served(folder: str, port: int) -> Iterator[str]:
    """The demo district behind an address, until the block ends."""
    surroundings = environment(folder, port)
    Path(folder, "static").mkdir()
    for command in (["migrate", "--verbosity", "0"], ["load_demo"]):
        subprocess.run([sys.executable, "manage.py", *command], cwd=ROOT, env=surroundings, check=True)
    server = subprocess.Popen(
        [sys.executable, "-m", "gunicorn", "--bind", f"127.0.0.1:{port}", "--log-level", "error", "config.wsgi"],
        cwd=ROOT,
        env=surroundings,
    )
    address = f"http://127.0.0.1:{port}"
    try:
        wait_for(f"{address}/healthz")
        yield address
    finally:
        server.terminate()
        server.wait(timeout=20)


def wait_for(address: str, seconds: float = 60.0) -> None:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        try:
            with urllib.request.urlopen(address, timeout=5) as answer:  # noqa: S310  # our own server
                if answer.status == 200:
                    return
        except OSError:  # refused, not there yet, or busy with its start
            time.sleep(0.3)
    raise SystemExit(f"{address} does not answer")


def rows_for_shots(folder: str, port: int) -> dict[str, str]:
    """Addresses that only the loaded rows know: a ready instrument to lend, and the tag of the euphonium."""
    script = (
        "from inventory.models import Instrument, Tag; from django.utils import timezone; "
        "ready = Instrument.objects.ready(today=timezone.localdate()).filter(school__code='ALDER', "
        "whereabouts='in_store', kind_code='trumpet').first() or Instrument.objects.ready("
        "today=timezone.localdate()).filter(school__code='ALDER', whereabouts='in_store').first(); "
        f"tag = Tag.objects.live().get(instrument__asset_number='{EUPHONIUM}'); "
        "print(f'{ready.asset_number} {tag.token}')"
    )
    done = subprocess.run(
        [sys.executable, "manage.py", "shell", "--verbosity", "0", "-c", script],
        cwd=ROOT, env=environment(folder, port), check=True, capture_output=True, text=True,
    )  # fmt: skip
    number, token = done.stdout.split()[-2:]
    return {"LEND": f"/lend/{number}/", "TAG": f"/T/{token}"}


def log_in(page: Page, user: str) -> None:
    page.goto("/log-in/")
    page.fill("input[name=username]", user)
    page.fill("input[name=password]", PASSWORD)
    page.press("input[name=password]", "Enter")
    page.wait_for_url("**/")


def small_png(data: bytes) -> bytes:
    """The picture with few colors: paper and ink need no more, and the repository stays small."""
    picture = Image.open(io.BytesIO(data)).convert("RGB")
    for colors in (128, 64, 32):
        out = io.BytesIO()
        picture.quantize(colors, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE).save(
            out, "PNG", optimize=True
        )
        if out.tell() <= MOST_BYTES:
            return out.getvalue()
    raise SystemExit(f"a picture stays above {MOST_BYTES} bytes")


def small_webp(data: bytes) -> bytes:
    """The picture as small as a page of the guide asks; half as dense as a phone shows it can be read on paper too."""
    picture = Image.open(io.BytesIO(data)).convert("RGB")
    for quality in (60, 45, 30, 20, 15, 10, 5):
        out = io.BytesIO()
        picture.save(out, "WEBP", quality=quality, method=6)
        if out.tell() <= MOST_GUIDE_BYTES:
            return out.getvalue()
    raise SystemExit(f"a picture of the guide stays above {MOST_GUIDE_BYTES} bytes")


def look(browser: Browser, shot: Shot, *, address: str, path: str, scale: float, language: str = "en-US") -> bytes:
    """Return the picture of a page as somebody sees it, once what is done before it is done."""
    context = browser.new_context(
        base_url=address,
        viewport=shot.size,
        device_scale_factor=scale,
        has_touch=shot.size["width"] == PHONE["width"],
        reduced_motion="reduce",
        locale=language,
    )
    page = context.new_page()
    if shot.user:
        log_in(page, shot.user)
    answer = page.goto(path)
    if answer is None or not answer.ok:
        raise SystemExit(f"{shot.name}: {path} answers {answer and answer.status}")
    if shot.prepare:
        shot.prepare(page)
    page.wait_for_load_state()
    page.wait_for_timeout(SETTLES_MS)
    page.locator(".demo-note").evaluate_all("notes => notes.forEach((note) => note.remove())")
    taken = page.screenshot()
    context.close()
    return taken


def take(browser: Browser, shot: Shot, *, address: str, path: str) -> None:
    scale = 2 if shot.size == PHONE else 1
    (SHOTS / f"{shot.name}.png").write_bytes(small_png(look(browser, shot, address=address, path=path, scale=scale)))
    print(f"  {shot.name}.png")


def take_for_guide(browser: Browser, shot: Shot, *, address: str) -> None:
    for folder, language in LANGUAGES.items():
        (GUIDE / folder).mkdir(parents=True, exist_ok=True)
        taken = look(browser, shot, address=address, path=shot.path, scale=1.5, language=language)
        (GUIDE / folder / f"{shot.name}.webp").write_bytes(small_webp(taken))
    print(f"  {shot.name}.webp")


def main() -> None:
    chromium = os.environ.get("HORNBOOK_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    if not chromium:
        raise SystemExit("no Chromium here: install the package chromium")
    wanted = set(sys.argv[1:])
    SHOTS.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="hornbook-shots-") as folder:
        port = free_port()
        with served(folder, port) as address, sync_playwright() as driver:
            special = rows_for_shots(folder, port)
            browser = driver.chromium.launch(executable_path=chromium, args=list(FLAGS))
            for shot in SHOT_LIST:
                if not wanted or shot.name in wanted:
                    take(browser, shot, address=address, path=special.get(shot.path, shot.path))
            for shot in GUIDE_LIST:
                if not wanted or shot.name in wanted:
                    take_for_guide(browser, shot, address=address)
            browser.close()


if __name__ == "__main__":
    main()
