"""Whether .venv holds what a lock names, whole: installed.py LOCK. Run by .venv's own Python.

Exit code 1 when not, with what is wrong on standard output; the records of what is damaged are deleted then, so that
pip installs it again.
"""

from __future__ import annotations

import re
import shutil
import sys
import sysconfig
from importlib.metadata import Distribution, distributions
from pathlib import Path

PIN = re.compile(r"^([A-Za-z0-9._-]+)==(\S+)", re.MULTILINE)


def key(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def gone(found: Distribution) -> Path | None:
    """Return the first file that the package brought and that is no longer there."""
    for file in found.files or ():
        if file.suffix != ".pyc" and not (path := Path(str(file.locate()))).exists():
            return path
    return None


def forget(damaged: list[Path]) -> None:
    """Take away the records of what is damaged, and what a stopped install left: pip would refuse to touch either."""
    folder = Path(sysconfig.get_path("purelib"))
    if sys.prefix == sys.base_prefix or not folder.is_relative_to(sys.prefix):
        return  # the system's own Python: not ours to mend
    cut = [left for left in folder.glob("*.dist-info") if not (left / "RECORD").is_file()]
    for left in [*damaged, *cut, *folder.glob("~*")]:
        shutil.rmtree(left, ignore_errors=True)


def main(lock: str) -> int:
    # What an interrupted install left may carry no name.
    there = {key(name): found for found in distributions() if (name := found.metadata["Name"])}
    wrong: list[str] = []
    damaged: list[Path] = []
    for name, version in PIN.findall(Path(lock).read_text(encoding="utf-8")):
        found = there.get(key(name))
        if found is None or found.version != version:
            wrong.append(f"{name} {version} is not installed")
        elif path := gone(found):
            wrong.append(f"{name} is damaged: {path} is gone")
            damaged += [
                folder
                for file in found.files or ()
                if (folder := Path(str(file.locate())).parent).suffix == ".dist-info"
            ]
    if wrong:
        forget(sorted(set(damaged)))
    print(*wrong, sep="\n", end="\n" if wrong else "")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
