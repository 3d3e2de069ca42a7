"""Bundles the scripts and style sheets that templates name, from static/ to built/, which is served before static/.

A page then asks for a handful of small files instead of some twenty. What scripts share lies in chunks, so that a page
has each module once. While there is no built/ (or in ``make dev``) the files of static/ are served as they stand.
"""

from __future__ import annotations

import hashlib
import re
import shutil
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SOURCE, TARGET = ROOT / "static", ROOT / "built"
FLAGS = (
    "--bundle", "--splitting", "--format=esm", "--minify", "--target=es2022", "--charset=utf8", "--log-level=warning",
    "--chunk-names=js/chunk-[hash]", "--external:*.woff2", f"--outbase={SOURCE}",
)  # fmt: skip


def entries() -> list[Path]:
    """Return the files of js/ and css/ that some template names."""
    named = re.compile(r"'((?:js|css)/[\w-]+\.(?:js|css))'")
    pages = (page.read_text(encoding="utf-8") for page in (ROOT / "templates").rglob("*.html"))
    return [SOURCE / name for name in sorted({name for page in pages for name in named.findall(page)})]


def stamp(named: list[Path]) -> str:
    """Return what changes with any file that goes in."""
    content = hashlib.sha256(repr(named).encode())
    for path in (Path(__file__), ROOT / "package-lock.json", *sorted(SOURCE.glob("[cj]s*/*.*s"))):
        content.update(path.read_bytes())
    return content.hexdigest()


def main() -> None:
    named, kept = entries(), TARGET / ".stamp"
    want = stamp(named)
    if kept.exists() and kept.read_text(encoding="utf-8") == want:
        return
    programs = list((ROOT / "node_modules" / "@esbuild").glob("*/bin/esbuild"))
    shutil.rmtree(TARGET, ignore_errors=True)  # an older one must not stand before the sources
    if not programs:
        print("!! no esbuild in node_modules: pages load their files one by one")
        return
    part = TARGET.with_suffix(".part")  # a set-up that is interrupted leaves no half of it
    shutil.rmtree(part, ignore_errors=True)
    subprocess.run([programs[0], *named, *FLAGS, f"--outdir={part}"], check=True)
    (part / ".stamp").write_text(want, encoding="utf-8")
    part.replace(TARGET)


if __name__ == "__main__":
    main()
