"""The keys that stand for answers, and what each presses; a person may choose other letters (static/js/keys.js keeps them)."""

from __future__ import annotations

from collections.abc import Iterator

from django.utils.translation import gettext_lazy as _

SINGLE_KEYS = {
    "/": (_("Search"),),
    "F": (_("Fine"),),
    "N": (_("Something is wrong"), _("No")),
    "Y": (_("Yes, safe"),),
    "L": (_("Light"), _("Count later")),
    "M": (_("Moderate"),),
    "S": (_("Severe"), _("Still there"), _("Save these counts")),
    "P": (_("Next part"),),
    "B": (_("Part before"), _("Nothing wrong here")),
    "O": (_("Another fault"),),
    "E": (_("Finish here"),),
    "A": (_("All there"),),
    "V": (_("Finish and see the verdict"),),
}


def key_lines() -> Iterator[tuple[str, str]]:
    """Return each key with the words of what it presses."""
    for key, presses in SINGLE_KEYS.items():
        yield key, ", ".join(str(one) for one in presses)
