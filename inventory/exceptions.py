"""Refusals, each a sentence for the person who asked."""

from django.utils.translation import gettext

from core.exceptions import RefusedError


class InstrumentUnavailableError(RefusedError):
    """Somebody else moved it first, or it is not where it has to be."""


class NumberTakenError(RefusedError):
    """The asset number or serial is taken."""


class InspectionClosedError(RefusedError):
    """The inspection is finished or dropped; nothing more can be entered."""

    def __init__(self) -> None:
        super().__init__(
            gettext("This inspection is already finished. What was entered is saved; start a new one to add to it.")
        )


class NoPublicAddressError(RefusedError):
    """Tags cannot be printed before the public address is set."""
