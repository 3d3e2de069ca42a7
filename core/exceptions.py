"""Refusals shared by all apps, each with a sentence to show."""

from datetime import datetime

from django.utils.translation import gettext as _


class RefusedError(Exception):
    """A service refused and wrote nothing. ``str()`` can be shown to the user."""


class PausedError(Exception):
    """There were too many wrong tries to log in: the next one waits. Answered by core/middleware.py."""

    def __init__(self, until: datetime) -> None:
        super().__init__(f"until {until:%Y-%m-%d %H:%M}")
        self.until = until


class UsedFormError(RefusedError):
    """The form was posted before about another row, so this is not a repeat of the same post."""

    def __init__(self) -> None:
        super().__init__(_("This page was already used for something else. Nothing was changed; reload the page."))


class OvertakenError(RefusedError):
    """A unique key was taken on every try."""

    def __init__(self) -> None:
        super().__init__(_("Someone else saved the same thing first. Nothing was changed; reload the page to see it."))


class SheetRefusedError(RefusedError):
    """A file that cannot be read as a spreadsheet; the message says why and what to do."""


class BackupError(RefusedError):
    """A backup that was not made or not put back; nothing is left half done."""


class ArchiveError(RefusedError):
    """An archive that was not made or cannot be read, or a key for it that cannot be used."""


class BusyError(RefusedError):
    """The database was locked or deadlocked on every try."""

    def __init__(self) -> None:
        super().__init__(_("Too many people are saving right now. Nothing was changed; please try again."))
