"""Refusals around students and loans, each with a sentence to show."""

from inventory.exceptions import RefusedError


class StaysInError(RefusedError):
    """The instrument may not go out today; the sentence gives every reason."""


class LimitsReasonError(RefusedError):
    """The instrument has limits and nobody has said why it goes out anyway."""


class DueDateError(RefusedError):
    """The return date is before the loan begins, or years away."""


class StudentRefusedError(RefusedError):
    """The student cannot borrow, be changed or be erased right now."""


class HasOneError(RefusedError):
    """The student has an instrument of this kind already, and nobody said that a second one is meant."""


class AccessoriesError(RefusedError):
    """The counted accessories do not match the instrument or the loan."""


class InspectionMissingError(RefusedError):
    """The inspection at hand-out or return is missing, unfinished, or of another instrument."""


class AlreadyReturnedError(RefusedError):
    """The loan is already closed; nothing was changed."""


class AgreementRefusedError(RefusedError):
    """The agreement cannot be signed this way."""


class OpenedTooOftenError(RefusedError):
    """A link was opened too often; nothing is shown for a while."""


class LedgerRefusedError(RefusedError):
    """What was to be entered in the ledger is too much, already reversed, or lacks an approval."""


class LossRefusedError(RefusedError):
    """A case of loss that cannot be opened, changed or ended this way."""


class SeatRefusedError(RefusedError):
    """The ensemble, class or seat cannot be saved this way."""


class AssignmentRefusedError(RefusedError):
    """The assignment cannot be changed, or not by what was on the page."""


class NoticeRefusedError(RefusedError):
    """The notice cannot be printed, or come back, as it is now."""


class RosterRefusedError(RefusedError):
    """A roster that was not imported; nothing of it was written."""


class ReturnUndoneError(RefusedError):
    """A return that can no longer be undone, or was undone already; nothing was changed."""
