"""The command that says what a sample allows."""

from __future__ import annotations

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from scipy import stats


def limit(*more: str, size: str = "60", deviations: str = "0", confidence: str = "0.95") -> str:
    out = StringIO()
    found = ["--size", size, "--deviations", deviations, "--confidence", confidence]
    call_command("sample_limit", *found, *more, stdout=out)
    return out.getvalue()


def test_the_limit_is_printed_as_json_alone():
    """AICPA, Audit Guide Audit Sampling (2017), table A-3: 4.9 for 60 without a deviation; the rate by scipy."""
    told = json.loads(limit("--json"))
    assert (told["percent"], told["model"], type(told["limit"])) == (4.9, "binomial", str)
    assert float(told["limit"]) == pytest.approx(stats.beta.ppf(0.95, 1, 60), abs=1e-12)


def test_with_a_population_it_is_a_number_of_instruments_over_it():
    """By scipy: of 200, nine deviations are missed by a sample of 60 with more than 3%, ten with less."""
    assert stats.hypergeom.cdf(0, 200, 9, 60) > 0.03 >= stats.hypergeom.cdf(0, 200, 10, 60)
    told = json.loads(limit("--population", "200", "--json", confidence="0.97"))
    assert told == {"limit": "0.045", "percent": 4.5, "model": "hypergeometric"}


@pytest.mark.parametrize(("size", "told"), [("60", "1"), ("1", "1")])
def test_nothing_but_deviations_rules_nothing_out(size, told):
    assert json.loads(limit("--json", size=size, deviations=size))["limit"] == told


def test_without_json_it_is_a_sentence():
    assert limit(size="125", deviations="5") == "At most 8.3% of the fleet (binomial)\n"


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"size": "0"}, "sample size 0"),
        ({"size": "1.5"}, "--size must be a whole number"),
        ({"deviations": "61"}, "61 deviations do not fit a sample of 60"),
        ({"deviations": "-1"}, "--deviations must be a whole number"),
        ({"confidence": "1"}, "confidence 1"),
        ({"confidence": "high"}, "--confidence must be a number"),
    ],
)
def test_bad_input_is_refused_with_its_reason_and_status_two(changed, words):
    with pytest.raises(CommandError, match=words) as refusal:
        limit(**changed)
    assert refusal.value.returncode == 2


def test_a_sample_larger_than_the_fleet_is_refused():
    with pytest.raises(CommandError, match="sample of 60 cannot be drawn from 59") as refusal:
        limit("--population", "59")
    assert refusal.value.returncode == 2
