"""Translation for rules, which know nothing of Django: the same marks, so that ``makemessages`` finds their sentences.

Until the app is ready, and in tests without it, a sentence stays as it was written.
"""

from __future__ import annotations

from gettext import NullTranslations
from typing import Protocol


class Translations(Protocol):
    """Anything that translates, such as the module ``django.utils.translation``."""

    def gettext(self, message: str, /) -> str: ...
    def ngettext(self, singular: str, plural: str, number: int, /) -> str: ...


_current: Translations = NullTranslations()


def translate_by(translations: Translations) -> None:
    global _current  # noqa: PLW0603 - one for the process, as in Django
    _current = translations


def gettext(message: str, /, **values: object) -> str:
    """Return the message in the reader's language, each ``%(name)s`` filled in."""
    translated = _current.gettext(message)
    return translated % values if values else translated


def ngettext(singular: str, plural: str, number: int, /, **values: object) -> str:
    """Return the form for so many, each ``%(name)s`` filled in, ``%(number)s`` by itself."""
    return _current.ngettext(singular, plural, number) % {"number": number, **values}


def gettext_noop(message: str, /) -> str:
    """Mark a constant, made before anybody's language is known. Where it is shown, ``gettext`` translates it."""
    return message
