import pytest
from django.db import OperationalError, ProgrammingError

from config.sentences import sentence
from inventory.catalog.load import CatalogError, Problem

pytestmark = pytest.mark.pure


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (
            OperationalError('connection to server at "h", port 5432 failed: refused\n\tIs it up?'),
            "refused. See whether",
        ),
        (OperationalError("unable to open database file"), "unable to open database file"),
        (OperationalError("no such table: core_event"), "`make serve` brings it up to date"),
        (ProgrammingError('relation "core_event" does not exist\nLINE 1'), "`make serve` brings it up to date"),
        (CatalogError([Problem("kinds.yaml", "trumpet", "no parts")]), "HORNBOOK_CATALOG_DIR: kinds.yaml: trumpet"),
        (CatalogError([Problem("a", "b", "c"), Problem("d", "e", "f")]), "and 1 more"),
    ],
)
def test_what_lies_outside_the_code_is_one_sentence(error, said):
    found = sentence(error)
    assert said in found
    assert "\n" not in found


@pytest.mark.parametrize("error", [ProgrammingError("syntax error"), ValueError("x"), KeyError("x")])
def test_a_mistake_in_the_code_keeps_its_traceback(error):
    assert sentence(error) is None
