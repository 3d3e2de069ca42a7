"""Bringing a spreadsheet: which column is what, what each cell says, and which rows may come in."""
