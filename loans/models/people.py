"""Who borrows, and whom to write to about it."""

from __future__ import annotations

from typing import Any, Self

from django.db import models
from django.db.models import Count, Exists, OuterRef, Q, Subquery
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from inventory.catalog.load import catalog
from inventory.models import School, SchoolRowsQuerySet
from loans.rules.people import sort_name_of


def named_by(text: str, *, way: str = "") -> Q:
    """Return what is true of a student with the text in name or number; ``way`` leads to the student from another row."""
    return (
        Q(**{f"{way}name__icontains": text})
        | Q(**{f"{way}sort_name__icontains": text})
        | Q(**{f"{way}number__icontains": text})
    )


class StudentQuerySet(SchoolRowsQuerySet["Student"]):
    way_to_school = "school"
    view_permission = "loans.view_student"

    def current(self) -> Self:
        return self.filter(erased_at=None, left_on=None, merged_into=None)

    def off_roster(self) -> Self:
        """Return those whom the roster no longer has, and who stay because an instrument is out."""
        return self.current().filter(off_roster_on__isnull=False)

    def waiting(self) -> Self:
        """Return current students who want a kind of instrument and have none."""
        from loans.models.lending import Loan  # loans stand above people

        out = Loan.objects.open().filter(student=OuterRef("pk"))
        return self.current().exclude(wants_kind="").filter(~Exists(out))

    def with_out(self) -> Self:
        """Read with each student as ``out`` how many instruments the student has now."""
        from loans.models.lending import open_loans_by  # loans stand above people

        return self.annotate(out=Count("loans", filter=open_loans_by("loans__")))

    def with_guardian(self) -> Self:
        """Read with each student the name of the guardian whom letters go to first, for ``guardian_name``."""
        first = Guardian.objects.filter(student=OuterRef("pk")).order_by("place").values("name")[:1]
        return self.annotate(first_guardian_name=Subquery(first))

    def search(self, text: str) -> Self:
        """Return those whose name, number or guardian's name has the text in it."""
        guardians = Guardian.objects.filter(name__icontains=text).values("student")
        return self.filter(named_by(text) | Q(pk__in=guardians))


class Student(models.Model):
    """Whoever borrows, with the least that a loan needs to know. Once erased, the loan rows stay without the name.

    A member of staff or a group has no grade and no guardian.
    """

    class Who(models.TextChoices):
        STUDENT = "student", _("a student")
        STAFF = "staff", _("a member of staff")
        GROUP = "group", _("a group or another school")

    school = models.ForeignKey(School, models.PROTECT, related_name="students")
    who = models.CharField(max_length=8, choices=Who, default=Who.STUDENT)
    name = models.CharField(max_length=120)
    sort_name = models.CharField(max_length=122, blank=True)  # "Rivera, Ana": lists sort by it
    grade = models.CharField(max_length=10, blank=True)
    number = models.CharField(max_length=40, blank=True)  # as on the student card
    sourced_id = models.CharField(max_length=255, blank=True)  # of the roster it was imported from
    off_roster_on = models.DateField(null=True, blank=True)  # since when it is not on the roster
    level = models.CharField(
        max_length=16, default="first_year"
    )  # catalog level: first_year, second_year, concert, marching
    wants_kind = models.CharField(_("waiting for"), max_length=40, blank=True)  # kind code; "" if not waiting
    is_private = models.BooleanField(default=False)  # the family refused that directory information is given out
    left_on = models.DateField(null=True, blank=True)
    # Another record of the same student, which this one leads to: its history stays here.
    merged_into = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="merged_from")
    erased_at = models.DateTimeField(null=True, blank=True)

    objects = StudentQuerySet.as_manager()

    class Meta:
        ordering = ["sort_name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["school", "number"],
                condition=~Q(number=""),
                name="student_number_once",
                violation_error_message=_("Another student at this school has this number."),
            ),
            models.UniqueConstraint(
                fields=["school", "sourced_id"],
                condition=~Q(sourced_id=""),
                name="student_sourced_once",
                violation_error_message=_("Another student at this school has this roster identifier."),
            ),
            models.CheckConstraint(condition=Q(who="student") | Q(grade=""), name="student_grade_of_students"),
        ]
        indexes = [
            models.Index(fields=["wants_kind", "school"], name="student_wants"),
            models.Index(fields=["sort_name"], name="student_sorted"),
        ]

    def __str__(self) -> str:
        return self.name or gettext("erased")

    @property
    def has_guardians(self) -> bool:
        """Whether somebody signs and answers for this borrower."""
        return self.who == self.Who.STUDENT

    @property
    def usual_sort_name(self) -> str:
        """Return what lists sort by unless somebody says otherwise: the family name, or the name of a group."""
        return self.name if self.who == self.Who.GROUP else sort_name_of(self.name)

    @property
    def guardian(self) -> Guardian | None:
        """Return the guardian whom letters go to first, or None."""
        first: Guardian | None = Guardian.objects.filter(student=self.pk).order_by("place").first()
        return first

    @property
    def guardian_name(self) -> str:
        """Return the name of the first guardian, or ""; of many students, read them by ``with_guardian``."""
        if hasattr(self, "first_guardian_name"):
            return self.first_guardian_name or ""
        guardian = self.guardian
        return guardian.name if guardian else ""

    @property
    def waits_for(self) -> str:
        """Return the name of the kind the student waits for, or ""."""
        kind = catalog().kinds.get(self.wants_kind)
        return kind.name if kind else ""


class GuardianQuerySet(SchoolRowsQuerySet["Guardian"]):
    way_to_school = "student__school"
    view_permission = "loans.view_student"


class GuardianManager(models.Manager.from_queryset(GuardianQuerySet)):  # type: ignore[misc]  # made at run time
    """The guardians there are, without the places that were given up."""

    def get_queryset(self) -> Any:
        return super().get_queryset().exclude(name="", email="", phone="", contact="", address="")


class Guardian(models.Model):
    """Whom to write to and to call about a student; place 1 comes first.

    No row is deleted, because events name it: a place that is given up, or erased, is empty.
    """

    class Language(models.TextChoices):
        ENGLISH = "en", _("English")
        SPANISH = "es", _("Spanish")

    student = models.ForeignKey(Student, models.PROTECT, related_name="guardians")
    place = models.PositiveSmallIntegerField(default=1)
    name = models.CharField(max_length=120, blank=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    contact = models.CharField(max_length=200, blank=True)  # any other way to reach them, as typed
    address = models.CharField(max_length=200, blank=True, db_default="")  # where letters are mailed, in lines
    language = models.CharField(max_length=2, choices=Language, default=Language.ENGLISH)
    sourced_id = models.CharField(max_length=255, blank=True)  # of the roster it was imported from
    mail_came_back = models.BooleanField(default=False, db_default=False)  # from this address; a new address clears it
    email_since = models.DateTimeField(null=True, blank=True)  # None: the first one they had

    objects = GuardianManager()
    places = models.Manager()  # noqa: DJ012  # with those given up

    class Meta:
        ordering = ["student", "place"]
        constraints = [
            models.UniqueConstraint(fields=["student", "place"], name="guardian_place_once"),
            models.CheckConstraint(condition=Q(place__gte=1), name="guardian_place_from_one"),
        ]

    def __str__(self) -> str:
        return gettext("guardian %(place)d of student %(student)d") % {
            "place": self.place,
            "student": self.student_id,
        }
