"""Problems are told so that the line can be found."""

from __future__ import annotations

from inventory.catalog.load.problems import CatalogError, Problem


def test_an_error_lists_each_problem_once_and_in_order():
    later, first = Problem("b.yaml", "x", "wrong"), Problem("a.yaml", "y", "missing")
    error = CatalogError([later, first, later])
    assert error.problems == [first, later]
    assert str(error) == "a.yaml: y: missing\nb.yaml: x: wrong"
