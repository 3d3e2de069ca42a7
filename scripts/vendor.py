"""Copies the pinned browser libraries and fonts from node_modules/ to static/vendor/, as ES modules of our own origin.

Three changes on the way, so that a page needs no import map, and works without scripts/bundle.py too: a bare import
becomes a relative one, a CommonJS module gets a default export, and pointers to source maps that are not copied go. Of
the font of musical signs only the accidentals are taken, of the further Latin letters those of names in European and
Vietnamese spelling.
"""

from __future__ import annotations

import io
import re
import shutil
from collections.abc import Iterable
from pathlib import Path

from fontTools import merge, subset
from fontTools.ttLib import TTFont

ROOT = Path(__file__).resolve().parent.parent
SOURCE = ROOT / "node_modules"
TARGET = ROOT / "static" / "vendor"
FACES = (("serif-600", "eb-garamond", 600), ("sans-400", "source-sans-3", 400), ("sans-600", "source-sans-3", 600))
LATIN_EXTENDED_A = range(0x100, 0x180)
ACCIDENTALS = range(0x266D, 0x2670)  # flat, natural, sharp


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


def keep(characters: Iterable[int], *, of: Path, target: Path, is_raised: bool = False) -> None:
    """Write the woff2 of some characters of a font, raised to stand on the line of the text if they hang below it."""
    options = subset.Options(flavor="woff2", layout_features=[], name_IDs=["*"], notdef_outline=True, hinting=False)
    font = subset.load_font(str(of), options)
    wanted = subset.Subsetter(options)
    wanted.populate(unicodes=characters)
    wanted.subset(font)
    if is_raised:
        for name in font.getBestCmap().values():
            glyph = font["glyf"][name]
            glyph.coordinates.translate((0, -glyph.yMin))
            glyph.recalcBounds(font["glyf"])
    subset.save_font(font, str(target), options)


def join(parts: list[Path]) -> None:
    """Write one TrueType file of all parts beside the first: paper is laid out with whole fonts."""
    opened = []
    for part in parts:
        font, plain = TTFont(part, recalcTimestamp=False), io.BytesIO()
        font.flavor = None
        font.save(plain)
        opened.append(plain)
    merge.Merger().merge(opened).save(parts[0].with_suffix(".ttf"))


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
    compiled = {"zxing/reader/zxing_reader.wasm": "zxing-wasm/dist/reader/zxing_reader.wasm"}
    for name, family, weight in FACES:
        compiled[f"fonts/{name}.woff2"] = f"@fontsource/{family}/files/{family}-latin-{weight}-normal.woff2"
        compiled[f"fonts/{name}-vi.woff2"] = f"@fontsource/{family}/files/{family}-vietnamese-{weight}-normal.woff2"
    shutil.rmtree(TARGET, ignore_errors=True)
    for name, text in files.items():
        path = TARGET / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    for name, source in compiled.items():
        shutil.copyfile(SOURCE / source, TARGET / name)
    for name, family, weight in FACES:
        further = SOURCE / f"@fontsource/{family}/files/{family}-latin-ext-{weight}-normal.woff2"
        keep(LATIN_EXTENDED_A, of=further, target=TARGET / f"fonts/{name}-ext.woff2")
    music = SOURCE / "@fontsource/noto-music/files/noto-music-music-400-normal.woff2"
    keep(ACCIDENTALS, of=music, target=TARGET / "fonts/accidentals.woff2", is_raised=True)  # drawn for a staff
    for name, _, _ in FACES:
        join([TARGET / f"fonts/{part}.woff2" for part in (name, f"{name}-ext", f"{name}-vi", "accidentals")])
    print(f"   {len(files) + len(compiled) + 2 * len(FACES) + 1} files in static/vendor/")


if __name__ == "__main__":
    main()
