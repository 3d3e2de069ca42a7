import re
from pathlib import Path

from loans.rules.assigning import Reason, reason_words
from loans.rules.assigning.facts import Stop
from loans.rules.assigning.words import COUNTED, WORDS

FOLDER = Path(__file__).parents[4] / "loans" / "rules" / "assigning"


def test_every_reason_that_the_rules_give_has_words():
    paths = [FOLDER / "fit.py", FOLDER / "proposal.py", FOLDER.parents[1] / "services" / "assigning.py"]
    text = "".join(path.read_text(encoding="utf-8") for path in paths)
    given = set(re.findall(r'Reason\("(\w+)"', text)) | set(re.findall(r'"((?:only|all|no)_\w+|worn|limits)"', text))
    given |= {f"despite_{stop.value}" for stop in Stop}
    assert given == WORDS.keys() | COUNTED.keys()


def test_a_number_is_said_in_its_form():
    assert reason_words(Reason("all_bench", number=1)) == "The only one is on the bench or at a shop."
    assert reason_words(Reason("all_bench", number=4)) == "All 4 are on the bench or at a shop."
    assert reason_words(Reason("fits")) == "Fits in every way."
    assert reason_words(Reason("no_longer_known")) == "no_longer_known"
