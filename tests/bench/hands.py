"""What the main acts take a person: taps and characters as the browser tests count them, and the waits measured there."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree as ET

from tests.bench.sections import Run

ROOT = Path(__file__).parent.parent.parent


def section(run: Run) -> Iterator[str]:
    """Run the tests marked ``counted``, one after another, and yield a line for each from the report they leave.

    Raises RuntimeError with pytest's last lines when one fails.
    """
    report = Path(run.folder, "hands.xml")
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-q",
        "-m",
        "counted",
        "-o",
        "junit_family=xunit1",
        f"--junitxml={report}",
    ]
    surroundings = {
        name: value for name, value in os.environ.items() if name != "DATABASE_URL" and not name.startswith("HORNBOOK_")
    }
    done = subprocess.run(
        [*command, "tests/browser"], cwd=ROOT, env=surroundings, check=False, capture_output=True, text=True
    )  # fmt: skip
    if done.returncode:
        raise RuntimeError(done.stdout[-2000:])
    for case in ET.parse(report).getroot().iter("testcase"):  # noqa: S314 - pytest wrote it a moment ago
        told = {one.get("name", ""): float(one.get("value", "0")) for one in case.iter("property")}
        if not told:
            yield f"{case.get('name')}: not counted, no Chromium here"
            continue
        name = (case.get("name") or "").removeprefix("test_").replace("_", " ")
        yield (
            f"{name}: {told['taps']:.0f} taps, {told['characters']:.0f} characters, {told['waited_seconds']:.1f} s of waits: "
            f"{told['counted_seconds'] + told['waited_seconds']:.1f} s"
        )
