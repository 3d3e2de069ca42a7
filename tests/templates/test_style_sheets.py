"""The style sheets hang together: a bracket left open would silently switch off what follows it."""

import re
from pathlib import Path

import pytest
from django.conf import settings

SHEETS = sorted((Path(settings.BASE_DIR) / "static" / "css").glob("*.css"))


def bare(sheet: Path) -> str:
    return re.sub(r"/\*.*?\*/", "", sheet.read_text(encoding="utf-8"), flags=re.DOTALL)


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.name)
@pytest.mark.parametrize("pair", ["{}", "()", "[]"])
def test_every_bracket_of_a_sheet_is_closed(sheet, pair):
    depth = 0
    for sign in bare(sheet):
        depth += (sign == pair[0]) - (sign == pair[1])
        assert depth >= 0
    assert depth == 0


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.name)
def test_every_selector_closes_its_brackets_before_its_rules_begin(sheet):
    broken = [head for head in re.findall(r"[^{};]*\{", bare(sheet)) if head.count("[") != head.count("]")]
    assert broken == []


def test_there_are_sheets_to_look_at():
    assert len(SHEETS) > 5


SMALLEST_PX, ROOT_PX = 11, 16  # the house's own: nothing smaller on a screen
SIZE = re.compile(r"font-size:\s*([^;}]+)|font:\s*(?:[0-9]{3}\s+)?([^\s/;}]+)")
STEP = re.compile(r"var\(--t[1-7]\)|inherit|([0-9.]+)em")


def type_scale(*, at_a_desk: bool) -> list[float]:
    """Return the steps of the type in pixels, smallest first."""
    tokens = (SHEETS[0].parent / "tokens.css").read_text(encoding="utf-8")
    lines = [line for line in tokens.splitlines() if "--t1:" in line]
    steps = dict(re.findall(r"--t(\d): ([0-9.]+)rem", lines[0])) | (
        dict(re.findall(r"--t(\d): ([0-9.]+)rem", lines[1])) if at_a_desk else {}
    )
    return [float(steps[number]) * ROOT_PX for number in sorted(steps)]


def test_the_type_has_six_steps_and_one_for_a_figure_seen_from_afar():
    """The scale in docs/look.md."""
    assert type_scale(at_a_desk=True) == [13, 15, 17, 20, 26, 34, 72]
    assert type_scale(at_a_desk=False) == [14, 16, 17, 20, 26, 28, 72]


@pytest.mark.parametrize(
    "sheet", [sheet for sheet in SHEETS if sheet.name != "print.css"], ids=lambda sheet: sheet.name
)
def test_every_size_of_type_is_a_step_of_the_scale(sheet):
    """In em only of the text around it, and so that the smallest step stays readable."""
    sizes = {(one or other).strip() for one, other in SIZE.findall(bare(sheet))}
    loose = {
        size for size in sizes if not (step := STEP.fullmatch(size)) or (step[1] and float(step[1]) * 13 < SMALLEST_PX)
    }
    assert loose == set()
