"""One student and one instrument. What is asked, and which make suits which level: common practice, no source."""

import pytest

from loans.rules.assigning import Keeps, Stop, points_of, stop_of
from loans.rules.assigning.fit import left_without
from tests.loans.rules.assigning.makers import WEIGHTS, offer, wish


@pytest.mark.parametrize(
    ("asked", "there", "stop"),
    [
        pytest.param({}, {}, None, id="suits"),
        pytest.param({}, {"pool": 2}, Stop.POOL, id="another school"),
        pytest.param({}, {"kind": "flute"}, Stop.KIND, id="another kind"),
        pytest.param({"size": "1/2"}, {"size": "3/4"}, Stop.SIZE, id="another size"),
        pytest.param({"size": "1/2"}, {"size": "1/2"}, None, id="the size"),
        pytest.param({}, {"size": "3/4"}, None, id="no size asked for"),
        pytest.param({}, {"keeps": Keeps.BENCH}, Stop.KEPT, id="on the bench"),
        pytest.param({}, {"keeps": Keeps.OUT}, Stop.KEPT, id="with a student"),
        pytest.param({}, {"keeps": Keeps.OTHER}, Stop.KEPT, id="stays in"),
        pytest.param(
            {"player": 7}, {"keeps": Keeps.CLEANING, "last_player": 7}, None, id="the player's own mouthpiece"
        ),
        pytest.param(
            {"player": 7}, {"keeps": Keeps.CLEANING, "last_player": 8}, Stop.SHARED, id="another's mouthpiece"
        ),
        pytest.param({}, {"keeps": Keeps.CLEANING}, Stop.SHARED, id="nobody knows whose mouthpiece"),
        pytest.param({}, {"misses": {"first_year": "loses D4"}}, Stop.NOTES, id="lacks a note of the level"),
        pytest.param({}, {"misses": {"concert": "loses B5"}}, None, id="lacks a note of another level"),
    ],
)
def test_what_rules_a_pair_out(asked, there, stop):
    assert stop_of(wish(**asked), offer(**there)) == stop


def said(asked, there):
    return {reason.code: reason.points for reason in points_of(wish(**asked), offer(**there), WEIGHTS)}


@pytest.mark.parametrize(
    ("asked", "there", "against"),
    [
        pytest.param({}, {}, {}, id="a student's make for a beginner"),
        pytest.param({"level": "concert"}, {"is_better": True}, {}, id="a better make for the concert band"),
        pytest.param({}, {"is_better": True}, {"too_good": 6}, id="a better make for a beginner"),
        pytest.param({"level": "second_year"}, {"is_better": True}, {"too_good": 3}, id="in the second year, better"),
        pytest.param({"level": "second_year"}, {}, {"too_plain": 3}, id="in the second year, plain"),
        pytest.param({"level": "concert"}, {}, {"too_plain": 6}, id="a student's make for the concert band"),
        pytest.param({"level": "marching"}, {"is_better": True}, {"too_good": 6}, id="a better make outdoors"),
        pytest.param({}, {"condition": 1}, {"worn": 2}, id="wear"),
        pytest.param({}, {"condition": 2}, {"limits": 4}, id="limits elsewhere"),
        pytest.param({"had": 5}, {"key": 5}, {}, id="the same"),
        pytest.param({"had": 5}, {"key": 6}, {"changed": 8}, id="another"),
        pytest.param({"had": 5, "had_limits": True}, {"key": 6}, {}, id="another after limits"),
        pytest.param(
            {"had": 5, "had_limits": True},
            {"key": 6, "condition": 2},
            {"limits": 4, "limits_again": 12},
            id="limits twice",
        ),
    ],
)
def test_what_speaks_against_a_pair(asked, there, against):
    assert said(asked, there) == against


@pytest.mark.parametrize(
    ("asked", "points"),
    [
        pytest.param({"priority": 9}, 0, id="the last ensemble, no wait"),
        pytest.param({"priority": 1}, 80, id="the first ensemble"),
        pytest.param({"priority": 9, "waited_days": 29}, 0, id="not a month"),
        pytest.param({"priority": 9, "waited_days": 90}, 6, id="three months"),
        pytest.param({"priority": 9, "waited_days": 36500}, 120, id="no wait counts beyond five years"),
        pytest.param({"priority": 12, "waited_days": -3}, 0, id="nothing counts below zero"),
    ],
)
def test_what_speaks_against_leaving_somebody_without(asked, points):
    assert left_without(wish(**asked), WEIGHTS) == points
