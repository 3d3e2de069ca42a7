"""The command that plans a sample."""

from __future__ import annotations

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command


def plan(*more: str, confidence: str = "0.95", tolerable: str = "0.05") -> str:
    out = StringIO()
    call_command("sample_size", "--confidence", confidence, "--tolerable", tolerable, *more, stdout=out)
    return out.getvalue()


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (["--expected", "0"], {"size": 59, "allowed": 0, "model": "binomial"}),
        (["--expected", "0.01"], {"size": 93, "allowed": 1, "model": "binomial"}),
        ([], {"size": 59, "allowed": 0, "model": "binomial"}),
        (["--population", "200"], {"size": 51, "allowed": 0, "model": "hypergeometric"}),
    ],
)
def test_the_plan_is_printed_as_json_alone(more, told):
    """AICPA, Audit Guide Audit Sampling (2017), table A-1; 51 of 200 by sums in whole numbers."""
    assert json.loads(plan(*more, "--json")) == told


def test_numbers_are_read_exactly():
    """AICPA's table A-2, 5% and 3.5%: 400 with 14; 400 x 0.035 is just 14, in floats a little more, which needs 423."""
    told = json.loads(plan("--expected", "0.035", "--json", confidence="0.90"))
    assert (told["size"], told["allowed"]) == (400, 14)


def test_without_json_it_is_a_sentence():
    assert plan("--expected", "0.01") == "Examine 93; allowed deviations: 1 (binomial)\n"


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (["--expected", "0.05"], "below the tolerable rate"),
        (["--expected", "0.06"], "below the tolerable rate"),
        (["--expected", "-0.01"], "0 or more"),
        (["--expected", "x"], "--expected must be a number"),
        (["--tolerable", "1.5"], "tolerable rate 1.5"),
        (["--confidence", "95"], "confidence 95"),
        (["--population", "0"], "population 0"),
        (["--population", "2.5"], "--population must be a whole number"),
    ],
)
def test_bad_input_is_refused_with_its_reason_and_status_two(more, words):
    with pytest.raises(CommandError, match=words) as refusal:
        plan(*more)
    assert refusal.value.returncode == 2
