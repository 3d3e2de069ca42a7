"""Copies the pinned browser libraries from node_modules/ to static/vendor/ as ES modules of our own origin.

Three changes on the way, so that a page needs neither an import map nor a bundler: a bare import becomes a relative
one, a CommonJS module gets a default export, and pointers to source maps that are not copied go.
"""

from __future__ import annotations

import re
import shutil
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SOURCE = ROOT / "node_modules"
TARGET = ROOT / "static" / "vendor"


def without_source_map(text: str) -> str:
    return re.sub(r"^//# sourceMappingURL=.*$", "", text, flags=re.MULTILINE)


def as_module(text: str) -> str:
    """Wrap a CommonJS file with one ``module.exports`` and no ``require``."""
    if "require(" in text or text.count("module.exports") != 1:
        raise SystemExit("fft.js has changed its form: look at scripts/vendor.py")
    return f"const module = {{ exports: {{}} }};\n{text}\nexport default module.exports;\n"


def with_relative_import(text: str, *, bare: str, relative: str) -> str:
    changed, count = re.subn(rf'from "{re.escape(bare)}"', f'from "{relative}"', text)
    if count != 1:
        raise SystemExit(f"expected one import of {bare}, found {count}: look at scripts/vendor.py")
    return changed


def read(name: str) -> str:
    return without_source_map((SOURCE / name).read_text(encoding="utf-8"))


def main() -> None:
    files = {
        "pitchy/pitchy.js": with_relative_import(read("pitchy/index.js"), bare="fft.js", relative="./fft.js"),
        "pitchy/fft.js": as_module(read("fft.js/lib/fft.js")),
        "pitchy/LICENSE": read("pitchy/LICENSE"),
        "pitchy/LICENSE.fft.md": read("fft.js/README.md").partition("#### LICENSE")[2],
        "zxing/reader/index.js": read("zxing-wasm/dist/es/reader/index.js"),
        "zxing/share.js": read("zxing-wasm/dist/es/share.js"),
        "zxing/LICENSE": read("zxing-wasm/LICENSE"),
    }
    compiled = {"zxing/reader/zxing_reader.wasm": "zxing-wasm/dist/reader/zxing_reader.wasm"}
    shutil.rmtree(TARGET, ignore_errors=True)
    for name, text in files.items():
        path = TARGET / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    for name, source in compiled.items():
        shutil.copyfile(SOURCE / source, TARGET / name)
    print(f"   {len(files) + len(compiled)} files in static/vendor/")


if __name__ == "__main__":
    main()
