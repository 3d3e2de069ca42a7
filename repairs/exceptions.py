"""Refusals at the bench, each a sentence for the person who asked."""

from inventory.exceptions import RefusedError


class JobClosedError(RefusedError):
    """The job is closed; nothing more can be done in it."""


class StepRefusedError(RefusedError):
    """The step may not be done now; the sentence says what comes first, and why."""


class CautionsFirstError(RefusedError):
    """Hot, chemical or sharp work begins with reading the cautions, once per job."""


class JobOpenError(RefusedError):
    """There is a job open on the instrument already."""


class NotProvedError(RefusedError):
    """The job cannot close yet: steps are left, or the play test failed."""


class AtShopError(RefusedError):
    """The horn is at a shop; nothing can be done to it here."""


class MatchedPartsError(RefusedError):
    """Parts that were fitted to each other stay together; the sentence names the set."""


class PartTakenError(RefusedError):
    """The part was taken off the parts horn before."""


class ApprovalNeededError(RefusedError):
    """It costs more than the limit and nobody who may has approved it."""


class CareRefusedError(RefusedError):
    """The care cannot have been done to this instrument on this day."""
