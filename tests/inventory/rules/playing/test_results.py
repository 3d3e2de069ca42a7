"""What the notes and words of a play test bear out. Common practice, no source."""

from __future__ import annotations

import pytest

from inventory.rules.playing.results import contradiction

SAYS_NOTHING = {"failed": [], "weak": [], "limits_text": "", "note": ""}


@pytest.mark.parametrize(
    ("result", "said", "field"),
    [
        ("pass", {}, None),
        ("pass", {"weak": ["C4"]}, None),
        ("pass", {"failed": ["C4"]}, "result"),
        ("limits", {"limits_text": " "}, "limits_text"),
        ("limits", {"limits_text": "Low C only loud.", "failed": ["C4"]}, None),
        ("fail", {"note": " "}, "note"),
        ("fail", {"note": "It whistles."}, None),
        ("fail", {"weak": ["C4"]}, None),
        ("fail", {"failed": ["C4"]}, None),
    ],
)
def test_a_result_is_borne_out_or_a_field_has_to_change(result, said, field):
    found = contradiction(result, **(SAYS_NOTHING | said))
    assert (found and found[0]) == field
