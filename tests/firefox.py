"""Firefox as Debian ships it, driven by its own protocol, Marionette, which geckodriver speaks to it as well.

Playwright cannot: it asks for commands of WebDriver BiDi that Firefox has from 143 on. When Debian's ESR is past that,
``firefox.launch(channel="moz-firefox")`` takes the place of this file.
"""

from __future__ import annotations

import json
import shutil
import socket
import subprocess
import time
from pathlib import Path
from typing import Any, Self

WAIT_S = 15.0
ENTER = "\ue007"  # as WebDriver (W3C) names the key
BETWEEN_TAPS_S = 0.4  # a page takes two taps within 300 ms for one
PREFERENCES = {
    "marionette.port": 0,  # any that is free: it writes which
    "app.update.enabled": False,
    "browser.shell.checkDefaultBrowser": False,
    "datareporting.policy.dataSubmissionEnabled": False,
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
    "signon.rememberSignons": False,
}


def firefox_path() -> str | None:
    return next((found for name in ("firefox-esr", "firefox") if (found := shutil.which(name))), None)


class Firefox:
    """A running Firefox with one page; ``with Firefox(home=..., folder=tmp_path) as page``."""

    def __init__(self, *, home: str, folder: Path) -> None:
        lines = (f"user_pref({json.dumps(name)}, {json.dumps(value)});\n" for name, value in PREFERENCES.items())
        (folder / "user.js").write_text("".join(lines), encoding="utf-8")
        path = firefox_path()
        assert path is not None
        self.home, self.number = home, 0
        self.process = subprocess.Popen(
            [path, "--headless", "--no-remote", "--marionette", "--profile", str(folder)],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        self.port_file = folder / "MarionetteActivePort"

    def __enter__(self) -> Self:
        self.until(lambda: self.port_file.exists() and self.port_file.read_text(encoding="ascii").strip(), seconds=60)
        self.wire = socket.create_connection(("127.0.0.1", int(self.port_file.read_text(encoding="ascii"))))
        self.answers = self.wire.makefile("rb")
        self._read()  # it says what it is
        self.do("WebDriver:NewSession")
        self.do("WebDriver:SetWindowRect", width=450, height=900)  # the narrowest that it gets
        return self

    def __exit__(self, *_error: object) -> None:
        self.answers.close()
        self.wire.close()
        self.process.terminate()
        self.process.wait(timeout=30)

    def _read(self) -> Any:
        length = b""
        while (byte := self.answers.read(1)) != b":":
            length += byte
        return json.loads(self.answers.read(int(length)))

    def do(self, command: str, **about: Any) -> Any:
        self.number += 1
        sent = json.dumps([0, self.number, command, about]).encode()
        self.wire.sendall(b"%d:%s" % (len(sent), sent))
        _, _, error, result = self._read()
        if error:
            raise LookupError(f"{error['error']}: {error['message']}")
        return result["value"] if isinstance(result, dict) and "value" in result else result

    def until(self, act: Any, *, seconds: float = WAIT_S) -> Any:
        """Return what ``act`` gives as soon as it gives something; what is not there yet is waited for."""
        end, why = time.monotonic() + seconds, ""
        while time.monotonic() < end:
            try:
                if found := act():
                    return found
            except LookupError as error:
                why = str(error)
            time.sleep(0.1)
        where = self.do("WebDriver:GetCurrentURL") if self.number else ""
        raise AssertionError(f"it did not come about at {where}: {why}")

    # ---- what a person does

    def go(self, address: str) -> None:
        self.do("WebDriver:Navigate", url=self.home + address)

    def press(self, name: str) -> None:
        """Press what is seen and is called that: a link, a button, a label."""
        called = f'[contains(., "{name}") or @aria-label="{name}"]'
        self.press_at(f"//*[self::a or self::button or self::label]{called}", name=name)

    def press_at(self, xpath: str, *, name: str = "") -> None:
        def press() -> bool:
            for one in self._all(xpath):
                said = (
                    self.do("WebDriver:GetElementText", id=one),
                    self.do("WebDriver:GetElementAttribute", id=one, name="aria-label"),
                )
                if self.do("WebDriver:IsElementDisplayed", id=one) and (not name or name in said):
                    self.do("WebDriver:ElementClick", id=one)
                    return True
            return False

        self.until(press)
        time.sleep(BETWEEN_TAPS_S)

    def type(self, xpath: str, text: str) -> None:
        (one, *_) = self.until(lambda: self._all(xpath))
        self.do("WebDriver:ElementSendKeys", id=one, text=text)

    def sign(self, xpath: str) -> None:
        (one, *_) = self.until(lambda: self._all(xpath))
        self.do(
            "WebDriver:ExecuteScript", script="arguments[0].scrollIntoView({block: 'center'})", args=[self._as(one)]
        )
        strokes = [
            {"type": "pointerMove", "x": 9 * step - 90, "y": 20 * (step % 2), "origin": self._as(one)}
            for step in range(20)
        ]
        moves = [strokes[0], {"type": "pointerDown", "button": 0}, *strokes[1:], {"type": "pointerUp", "button": 0}]
        self.do("WebDriver:PerformActions", actions=[{"type": "pointer", "id": "hand", "actions": moves}])

    def sees(self, text: str) -> None:
        self.until(lambda: text in self.do("WebDriver:ExecuteScript", script="return document.body.innerText", args=[]))

    def _all(self, xpath: str) -> list[str]:
        found = self.do("WebDriver:FindElements", using="xpath", value=xpath)
        return [next(iter(one.values())) for one in found]

    @staticmethod
    def _as(one: str) -> dict[str, str]:
        return {"element-6066-11e4-a52e-4f735466cecf": one}  # how WebDriver (W3C) writes an element
