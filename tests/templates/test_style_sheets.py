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
