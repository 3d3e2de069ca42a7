from decimal import Decimal

from loans.rules.assigning import Weights
from tests.loans.rules.assigning.makers import WEIGHTS


def test_weights_come_from_the_settings_as_whole_numbers():
    values = {"same": 8, "level": 3, "condition": 2, "fairness": 12, "priority": 10, "waited": 2}
    assert Weights.from_settings({f"assign_{name}": Decimal(value) for name, value in values.items()}) == WEIGHTS
