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
