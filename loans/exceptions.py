"""Refusals around students and loans, each a sentence for the person who asked."""

from inventory.exceptions import RefusedError


class StaysInError(RefusedError):
    """The instrument may not go out today; the sentence names every reason."""


class LimitsReasonError(RefusedError):
    """The instrument has limits and nobody has said why it goes out all the same."""


class DueDateError(RefusedError):
    """The return date lies before the loan begins, or years away."""


class StudentRefusedError(RefusedError):
    """The student cannot be lent to, changed or erased as things stand."""


class AccessoriesError(RefusedError):
    """The counted accessories do not fit the instrument or the loan."""


class InspectionMissingError(RefusedError):
    """The inspection at hand-out or return is missing, unfinished or of another instrument."""


class AlreadyReturnedError(RefusedError):
    """The loan was closed before; nothing was changed."""


class AgreementRefusedError(RefusedError):
    """The agreement cannot be signed this way."""
