"""Which rows somebody may reach: those of the schools where one of their roles holds the permission."""

from __future__ import annotations

from typing import Any, ClassVar, Self, TypeVar

from django.db import models

Row = TypeVar("Row", bound=models.Model)


class SchoolRowsQuerySet(models.QuerySet[Row]):
    """Rows that belong to a school. Each kind says the way from a row to its school, and who may look at it."""

    way_to_school: ClassVar[str] = "instrument__school"
    view_permission: ClassVar[str] = "inventory.view_instrument"

    def visible_to(self, user: Any, permission: str = "") -> Self:
        """The rows at the schools where the user may do what ``permission`` says; without one, those they may look at."""
        from inventory.access import schools_of  # which itself asks the rows of roles

        return self.filter(**{f"{self.way_to_school}__in": schools_of(user, permission or self.view_permission)})
