"""Refusals at the bench, each a sentence for the person who asked."""

from inventory.exceptions import RefusedError


class JobClosedError(RefusedError):
    """The job is closed; nothing more can be done in it."""


class StepRefusedError(RefusedError):
    """The step may not be done now; the sentence says what comes first, and why."""


class CautionsFirstError(RefusedError):
    """Hot, chemical or sharp work begins with reading its cautions, each once per job by whoever does it."""


class JobOpenError(RefusedError):
    """The instrument already has an open job."""


class NotProvedError(RefusedError):
    """The job cannot close yet: steps are left, or the play test failed."""


class AtShopError(RefusedError):
    """The instrument is at a shop; nothing can be done to it here."""


class MatchedPartsError(RefusedError):
    """Parts that were fitted to each other stay together; the sentence names the set."""


class PartTakenError(RefusedError):
    """The part has already been taken."""


class ApprovalNeededError(RefusedError):
    """It costs more than the limit and nobody who may has approved it."""


class CareRefusedError(RefusedError):
    """The care cannot have been done to this instrument on this day."""
