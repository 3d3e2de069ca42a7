"""Copies the pinned browser libraries and fonts from node_modules/ to static/vendor/, as ES modules of our own origin.

Three changes on the way, so that a page needs neither an import map nor a bundler: a bare import becomes a relative
one, a CommonJS module gets a default export, and pointers to source maps that are not copied go. Of the font of musical
signs only the accidentals are taken.
"""

from __future__ import annotations

import re
import shutil
from pathlib import Path

from fontTools import subset

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


def keep_accidentals(source: Path, target: Path) -> None:
    """Write the woff2 of the flat, natural and sharp of a font."""
    options = subset.Options(flavor="woff2", layout_features=[], name_IDs=["*"], notdef_outline=True)
    font = subset.load_font(str(source), options)
    wanted = subset.Subsetter(options)
    wanted.populate(text="\u266d\u266e\u266f")
    wanted.subset(font)
    subset.save_font(font, str(target), options)


def main() -> None:
    files = {
        "pitchy/pitchy.js": with_relative_import(read("pitchy/index.js"), bare="fft.js", relative="./fft.js"),
        "pitchy/fft.js": as_module(read("fft.js/lib/fft.js")),
        "pitchy/LICENSE": read("pitchy/LICENSE"),
        "pitchy/LICENSE.fft.md": read("fft.js/README.md").partition("#### LICENSE")[2],
        **{
            f"workbox/{part}.js": read(f"workbox-{part}/build/workbox-{part}.prod.js")
            for part in ("core", "routing", "strategies")
        },
        "workbox/LICENSE": read("workbox-core/LICENSE"),
        "zxing/reader/index.js": read("zxing-wasm/dist/es/reader/index.js"),
        "zxing/share.js": read("zxing-wasm/dist/es/share.js"),
        "zxing/LICENSE": read("zxing-wasm/LICENSE"),
        "fonts/LICENSE.serif": read("@fontsource/eb-garamond/LICENSE"),
        "fonts/LICENSE.sans": read("@fontsource/source-sans-3/LICENSE"),
        "fonts/LICENSE.accidentals": read("@fontsource/noto-music/LICENSE"),
    }
    compiled = {
        "zxing/reader/zxing_reader.wasm": "zxing-wasm/dist/reader/zxing_reader.wasm",
        "fonts/serif-600.woff2": "@fontsource/eb-garamond/files/eb-garamond-latin-600-normal.woff2",
        "fonts/sans-400.woff2": "@fontsource/source-sans-3/files/source-sans-3-latin-400-normal.woff2",
        "fonts/sans-600.woff2": "@fontsource/source-sans-3/files/source-sans-3-latin-600-normal.woff2",
    }
    shutil.rmtree(TARGET, ignore_errors=True)
    for name, text in files.items():
        path = TARGET / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    for name, source in compiled.items():
        shutil.copyfile(SOURCE / source, TARGET / name)
    music = SOURCE / "@fontsource/noto-music/files/noto-music-music-400-normal.woff2"
    keep_accidentals(music, TARGET / "fonts/accidentals.woff2")
    print(f"   {len(files) + len(compiled) + 1} files in static/vendor/")


if __name__ == "__main__":
    main()
