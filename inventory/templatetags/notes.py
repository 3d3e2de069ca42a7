"""Written notes in a template."""

from __future__ import annotations

from django import template

from inventory.rules import notes

register = template.Library()

register.filter("note_words", notes.note_words)
register.filter("signed", notes.signed)
