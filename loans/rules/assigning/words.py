"""The reasons of a line in words. Codes are stored, so that everybody reads them in their own language."""

from __future__ import annotations

from core.translation import gettext as _
from core.translation import gettext_noop, ngettext
from loans.rules.assigning.facts import Reason

WORDS = {
    "same": gettext_noop("The same one as last time."),
    "fits": gettext_noop("Fits in every way."),
    "changed": gettext_noop("Not the same one as last time."),
    "too_good": gettext_noop("A better make than this level calls for."),
    "too_plain": gettext_noop("A plainer make than this level calls for."),
    "worn": gettext_noop("It has marks or wear."),
    "limits": gettext_noop("It has limits, but not in the notes of this level."),
    "limits_again": gettext_noop("One with limits for the second time."),
    "clean_first": gettext_noop("Clean it first."),
    "fixed": gettext_noop("Fixed by hand."),
    "excluded": gettext_noop("Its instrument was left out by hand; solve again to find another."),
    "no_longer": gettext_noop("No longer needs one."),
    "fixed_none": gettext_noop("Fixed by hand: none."),
    "despite_pool": gettext_noop("It belongs to another school."),
    "despite_kind": gettext_noop("It is of another kind."),
    "despite_size": gettext_noop("It is of another size."),
    "despite_kept": gettext_noop("It may not go out yet."),
    "despite_shared": gettext_noop("Its mouthpiece has not been cleaned since somebody else played it."),
    "despite_notes": gettext_noop("It lacks notes that this level needs."),
    "no_kind": gettext_noop("The school has no instrument of this kind."),
    "no_size": gettext_noop("The school has none of this size."),
}
COUNTED = {
    "too_few": (
        gettext_noop("Too few: %(number)s may go out, and others come first."),
        gettext_noop("Too few: %(number)s may go out, and others come first."),
    ),
    "drawn": (
        gettext_noop("Drawn by lot."),
        gettext_noop("Drawn by lot: %(number)s outcomes were equally good."),
    ),
    "only_limits": (
        gettext_noop("%(number)s is there, with limits in notes that this level needs."),
        gettext_noop("%(number)s are there, with limits in notes that this level needs."),
    ),
    "only_unclean": (
        gettext_noop("%(number)s is there, not cleaned since somebody else played it."),
        gettext_noop("%(number)s are there, not cleaned since somebody else played them."),
    ),
    "all_bench": (
        gettext_noop("The only one is on the bench or at a shop."),
        gettext_noop("All %(number)s are on the bench or at a shop."),
    ),
    "all_out": (
        gettext_noop("The only one is with a student."),
        gettext_noop("All %(number)s are with students."),
    ),
    "all_kept": (
        gettext_noop("The only one is not free to go out."),
        gettext_noop("None of the %(number)s is free to go out."),
    ),
}


def reason_words(reason: Reason) -> str:
    """Say a reason in a sentence; a code that is no longer known stands for itself."""
    if reason.code in COUNTED:
        return ngettext(*COUNTED[reason.code], reason.number)
    return _(WORDS.get(reason.code, reason.code))
