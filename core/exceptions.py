"""Refusals every app shares, each a sentence for the person who asked."""


class RefusedError(Exception):
    """A service says no; nothing was written. ``str()`` is fit to be shown."""


class UsedFormError(RefusedError):
    """The form was posted before, but about another row: this is no second posting of the same."""

    def __init__(self) -> None:
        super().__init__("This page was already used for something else. Reload it; nothing was changed.")


class OvertakenError(RefusedError):
    """A unique key stayed taken through every try."""

    def __init__(self) -> None:
        super().__init__("Somebody saved the same thing first. Nothing was changed; reload the page to see it.")


class BusyError(RefusedError):
    """The database stayed locked, or kept ending in deadlocks, through every try."""

    def __init__(self) -> None:
        super().__init__("Too many people are saving right now. Nothing was changed; please try again.")
