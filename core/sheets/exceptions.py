"""Refusals of a file, each with a sentence for the person who sent it."""

from __future__ import annotations


class SheetRefusedError(Exception):
    """The file cannot be read as a spreadsheet; the message says why and what to do."""
