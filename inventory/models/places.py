"""The district, its schools and rooms, and who works where."""

from __future__ import annotations

from typing import Any, ClassVar, Self, TypeVar

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from core.access import has_perm, roles_for
from core.models import User

Row = TypeVar("Row", bound=models.Model)


class SchoolRowsQuerySet(models.QuerySet[Row]):
    """Rows that belong to a school. Each model names the path from a row to its school, and who may view it."""

    way_to_school: ClassVar[str] = "instrument__school"
    view_permission: ClassVar[str] = "inventory.view_instrument"

    def visible_to(self, user: Any, permission: str = "") -> Self:
        """The rows of schools where the user has ``permission``; without one, those they may view."""
        keys = school_keys(user, permission or self.view_permission)
        return self.all() if keys is None else self.filter(**{f"{self.way_to_school}__in": keys})

    def keys_first(self) -> Self:
        """The same rows in the order asked for, found by key before anything is joined to them.

        For the first of many rows: where a query joins, SQLite may begin at the smallest table and read all there is.
        """
        rows: Self = self.model._default_manager.filter(pk__in=self.values("pk"))  # type: ignore[assignment]
        return rows.order_by(*self.query.order_by)


class District(models.Model):
    """The one district of this installation: its name and how it numbers instruments."""

    name = models.CharField(max_length=120)
    asset_prefix = models.CharField(
        max_length=8,
        blank=True,
        validators=[RegexValidator(r"^[A-Z0-9-]*$", _("Capitals, digits and hyphens only."))],
    )
    asset_digits = models.PositiveSmallIntegerField(default=4, validators=[MinValueValidator(3), MaxValueValidator(8)])
    next_asset_number = models.PositiveIntegerField(default=1)
    return_words = models.TextField(
        default="This instrument belongs to a public school. Please bring it to any school office of the district."
    )
    contact_phone = models.CharField(max_length=40, blank=True)
    keep_papers_years = models.PositiveSmallIntegerField(  # signed papers, from the return on; None: nobody has said
        null=True, blank=True, validators=[MaxValueValidator(50)]
    )
    second_step_roles = models.JSONField(default=list, blank=True)  # who must have a second step of the log-in
    # Both follow the figures that were set (models/figures.py): which they are, and which of them stored verdicts,
    # readiness and days of care were last computed from.
    figures_mark = models.CharField(max_length=64, blank=True, default="", db_default="", editable=False)
    reckoned_with = models.CharField(max_length=64, blank=True, default="", db_default="", editable=False)
    # When the administrator put the list of first steps aside; None: it is shown until each is done.
    first_steps_aside_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(pk=1), name="district_only_one")]

    def __str__(self) -> str:
        return self.name

    def asset_number(self, number: int) -> str:
        """The number as the district writes it on its instruments."""
        return f"{self.asset_prefix}{number:0{self.asset_digits}d}"


class SchoolQuerySet(SchoolRowsQuerySet["School"]):
    way_to_school = "pk"


class School(models.Model):
    code = models.CharField(
        max_length=8,
        unique=True,
        validators=[RegexValidator(r"^[A-Z0-9]{2,8}$", _("Two to eight capitals or digits."))],
    )
    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=40, blank=True)
    address = models.CharField(max_length=300, blank=True)  # where a shop sends back to
    email = models.EmailField("e-mail", blank=True)
    instrument_left_at = models.DateTimeField(null=True, blank=True, editable=False)  # the last that moved to another

    objects = SchoolQuerySet.as_manager()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Room(models.Model):
    school = models.ForeignKey(School, models.PROTECT, related_name="rooms")
    name = models.CharField(max_length=80)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["school", "name"], name="room_name_in_school")]

    def __str__(self) -> str:
        return self.name


class Role(models.TextChoices):
    DIRECTOR = "director", _("Director")
    TECH = "tech", _("Repair tech")
    AUDITOR = "auditor", _("District auditor")
    ADMINISTRATOR = "administrator", _("Administrator")


class StaffRole(models.Model):
    """One role of one person, at one school or (without a school) in the whole district."""

    user = models.ForeignKey(User, models.CASCADE, related_name="staff_roles")
    role = models.CharField(max_length=16, choices=Role)
    school = models.ForeignKey(School, models.PROTECT, null=True, blank=True, related_name="staff_roles")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["user", "role", "school"], condition=Q(school__isnull=False), name="staff_role_once_at_school"
            ),
            models.UniqueConstraint(
                fields=["user", "role"], condition=Q(school=None), name="staff_role_once_in_district"
            ),
            models.CheckConstraint(
                condition=~Q(role__in=[Role.DIRECTOR]) | Q(school__isnull=False), name="staff_role_director_has_school"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_role_display()} · {self.school or 'district'}"


def roles_held(user: User) -> tuple[StaffRole, ...]:
    """The user's roles with their schools, oldest first, read once per user object."""
    cached: tuple[StaffRole, ...] | None = getattr(user, "_roles_held", None)
    if cached is None:
        cached = tuple(StaffRole.objects.filter(user_id=user.pk).select_related("school").order_by("pk"))
        user._roles_held = cached  # type: ignore[attr-defined]  # a cache on the instance, gone with the request
    return cached


def school_keys(user: Any, permission: str) -> frozenset[int] | None:
    """The keys of the schools where one of the user's roles holds the permission; None: everywhere.

    Keys, not a subquery: a list of the whole district is then read in the order of its index, without asking of each
    row whether its school is among them.
    """
    if not has_perm(user, permission):
        return frozenset()
    roles = roles_for(permission)
    keys = {held.school_id for held in roles_held(user) if held.role in roles}
    return None if None in keys else frozenset(key for key in keys if key is not None)


def schools_of(user: Any, permission: str = "inventory.view_instrument") -> models.QuerySet[School]:
    """The schools where one of the user's roles holds the permission; a role without a school holds everywhere."""
    keys = school_keys(user, permission)
    return School.objects.all() if keys is None else School.objects.filter(pk__in=keys)
