"""A template says notes as the rules do."""

from __future__ import annotations

from django.template import Context, Template


def test_a_template_says_a_range():
    page = Template("{% load notes %}{{ lost|note_words }}")
    assert page.render(Context({"lost": ["C4", "C#4", "D4", "Eb4", "F#4"]})) == "C4 to E♭4, F♯4"
