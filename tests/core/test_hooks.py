"""Imports point down; what is called goes up."""

from __future__ import annotations

from core.hooks import Hook


def test_the_function_set_last_is_called_with_what_was_given():
    hook: Hook[[int], int] = Hook()
    hook.set(lambda number: number + 1)
    hook.set(lambda number: number * 10)
    assert hook(4) == 40
