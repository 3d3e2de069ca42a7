from __future__ import annotations

import pytest

from inventory.catalog.load import catalog
from inventory.catalog.schema import Skill
from inventory.models import School
from repairs.forms.benches import BenchForm, NewBenchForm, method_groups, tool_groups


def test_every_tool_stands_in_one_group():
    codes = [code for _, group in tool_groups() for code, _ in group]
    assert sorted(codes) == sorted(catalog().tools)


def test_every_method_that_needs_training_stands_in_one_group():
    codes = [code for _, group in method_groups() for code, _ in group]
    asked = {one.code for one in catalog().methods.values() if one.ladder or one.skill is not Skill.BASIC}
    assert sorted(codes) == sorted(asked)


def test_ticks_keep_what_was_sent():
    form = BenchForm({"name": "", "tools": ["tub"]})
    ticked = [line["code"] for _, lines in form.tool_lines() for line in lines if line["is_chosen"]]
    assert ticked == ["tub"]


@pytest.mark.django_db
def test_a_new_bench_begins_with_the_first_tools_and_the_districts_rate(school):
    form = NewBenchForm(schools=School.objects.all())
    assert set(form["tools"].value()) == {code for code, tool in catalog().tools.items() if tool.starter}
    assert form["rate_amount"].value() is None
    assert "$30 an hour now" in form["rate_amount"].help_text
