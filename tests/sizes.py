"""What does not fit on a page at a size: too wide, a bar too high, a number torn apart, words over one another, doors out of sight.

Outside checks: WCAG 2.2, success criteria 1.4.4 (text at twice its size), 1.4.12 (text spaced) and 1.4.10 (no sideways scroll at 320 px; a page at
1280x800 enlarged to 200 % is 640x400). That bars leave three quarters of the height of a phone on
its side, and two thirds upright, is the house's own figure.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import Page

ROOT_PX = 16


@dataclass(frozen=True)
class Size:
    width: int
    height: int
    text: int = 1  # how many times its size
    is_spaced: bool = False  # lines, letters, words and paragraphs apart, as 1.4.12 has them

    def __str__(self) -> str:
        said = f", text x{self.text}" if self.text > 1 else ", spaced" if self.is_spaced else ""
        return f"{self.width}x{self.height}{said}"


PHONE = Size(360, 780)
LANDSCAPE = Size(780, 360)
TABLET = Size(820, 1180)
DESK = Size(1280, 800)
ENLARGED = Size(640, 400)
LARGE_TEXT = Size(360, 780, text=2)
SPACED = Size(360, 780, is_spaced=True)
TOUCHED = (Size(320, 640), PHONE, LARGE_TEXT, SPACED, ENLARGED, LANDSCAPE, Size(700, 900), TABLET, Size(900, 1200))
EVERY_DAY = (Size(320, 640), LARGE_TEXT, ENLARGED, LANDSCAPE, TABLET)
BY_MOUSE = (ENLARGED, Size(960, 700), DESK)

MEASURE = """(isLarge) => {
  const flaws = [], range = document.createRange(), { clientWidth: wide, scrollWidth } = document.documentElement;
  const name = (one) => `${one.tagName.toLowerCase()}.${[...one.classList].join('.')} "${one.textContent.trim().replace(/\\s+/g, ' ').slice(0, 30)}"`;
  const all = [...document.querySelectorAll('body *')].filter((one) => one.checkVisibility() && !one.closest('.visually-hidden'));
  if (scrollWidth > wide) {
    const past = all.filter((one) => one.getBoundingClientRect().right > wide + 1 && !one.closest('.strip, svg, thead'));
    flaws.push(`${scrollWidth - wide} px too wide: ${past.slice(-3).map(name)}`);
  }
  const bars = all.filter((one) => /fixed|sticky/.test(getComputedStyle(one).position) && !one.closest('table') && one.offsetWidth > wide * 2 / 3); // narrower, it is a column that stays beside what scrolls
  const high = bars.reduce((sum, one) => sum + one.offsetHeight, 0);
  const most = isLarge ? 1 / 2 : innerHeight > innerWidth ? 1 / 3 : 1 / 4;
  if (high > innerHeight * most) flaws.push(`bars take ${high} of ${innerHeight}: ${bars.map(name)}`);
  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let text; (text = texts.nextNode()); ) {
    const parent = text.parentElement;
    const drawn = parent.closest('text')?.getScreenCTM().a ?? 1; // a drawing is shown larger or smaller than it was laid out
    if (text.data.trim() && parent.checkVisibility() && !parent.closest('title, desc') && parseFloat(getComputedStyle(parent).fontSize) * drawn < 10.95) {
      flaws.push(`too small to read: ${name(parent)}`);
    }
    if (!text.data.trim() || !parent.checkVisibility() || parent.closest('.visually-hidden, script, svg, select, textarea, code') || getComputedStyle(parent).clipPath !== 'none') continue;
    for (const { 0: word, index } of text.data.matchAll(/\\S+/g)) {
      const isNumber = /^[-(]?[$]?\\d[\\d.,:]*[%)]?[.,;:]?$/.test(word);
      if (!isNumber && (isLarge || !/^\\p{L}{2,12}[.,;:]?$/u.test(word))) continue;
      range.setStart(text, index);
      range.setEnd(text, index + word.length);
      if (new Set([...range.getClientRects()].filter((box) => box.width > 1).map((box) => Math.round(box.top))).size > 1) {
        flaws.push(`torn: ${word} in ${name(parent)}`);
      }
    }
  }
  const written = (one) => {
    const inside = document.createTreeWalker(one, NodeFilter.SHOW_TEXT), boxes = [];
    for (let text; (text = inside.nextNode()); ) {
      if (!text.data.trim() || !text.parentElement.checkVisibility() || text.parentElement.closest('.visually-hidden')) continue;
      range.selectNodeContents(text);
      boxes.push(...range.getClientRects());
    }
    return boxes;
  };
  for (const group of document.querySelectorAll('.strip, .facts, .stats, .pairs, .figures tr, .row, .section-head, .top-in, .top-side, .bar, .chips')) {
    const words = [...group.children].map((one) => [one, written(one)]);
    words.forEach(([one, boxes], at) => words.slice(at + 1).forEach(([other, others]) => {
      const isOver = boxes.some((a) => others.some((b) => Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1
        && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 5));
      if (isOver) flaws.push(`one over another: ${name(one)}, ${name(other)}`);
    }));
  }
  for (const door of document.querySelectorAll('.scan-link, .menu > summary, .mark')) {
    const box = door.getBoundingClientRect();
    if (door.checkVisibility() && (box.left < -1 || box.right > wide + 1)) flaws.push(`out of sight: ${name(door)}`);
  }
  if (document.querySelector('.top-side') && !document.querySelector('.scan-link')?.checkVisibility()) flaws.push('no way to scan');
  return flaws;
}"""

# A sheet of the page's own making is no inline style, so that its policy allows it.
SPACE = """(isSpaced) => {
  const sheet = new CSSStyleSheet();
  sheet.replaceSync('* { line-height: 1.5 !important; letter-spacing: .12em !important; word-spacing: .16em !important; } p { margin-bottom: 2em !important; }');
  document.adoptedStyleSheets = isSpaced ? [sheet] : [];
}"""


def set_size(page: Page, size: Size) -> None:
    page.set_viewport_size({"width": size.width, "height": size.height})
    page.evaluate(SPACE, size.is_spaced)
    page.evaluate(
        "(px) => { document.documentElement.style.fontSize = px === '16px' ? '' : px; }", f"{ROOT_PX * size.text}px"
    )


def misfits(page: Page, sizes: tuple[Size, ...]) -> list[str]:
    """Return what does not fit on the page at these sizes; the page is left at the last."""
    flaws = []
    for size in sizes:
        set_size(page, size)
        flaws += [f"{flaw} at {size}" for flaw in page.evaluate(MEASURE, size.text > 1 or size.is_spaced)]
    return flaws
