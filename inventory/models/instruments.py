"""Instruments: what they are, where they are, what goes with them."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any, Self

from django.core.checks import CheckMessage, Error
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from core.models import User
from inventory.catalog.load import catalog
from inventory.catalog.load.language import catalog_word
from inventory.columns import BY_NAME, NOT_SHOWN
from inventory.models.places import Room, School
from inventory.rules.facts import Owed
from inventory.rules.readiness import Readiness
from inventory.rules.verdict import Verdict

if TYPE_CHECKING:
    from inventory.catalog.schema import Kind, Part
from inventory.models.places import SchoolRowsQuerySet


class Whereabouts(models.TextChoices):
    IN_STORE = "in_store", _("In storage")
    WITH_STUDENT = "with_student", _("With a student")
    ON_BENCH = "on_bench", _("On the bench")
    AT_SHOP = "at_shop", _("At a shop")
    NOT_FOUND = "not_found", _("Not found")
    GONE = "gone", _("Gone")


# The enums are the rules'; here are their words on a screen.
VERDICT_LABELS = {
    Verdict.PLAYS: _("Plays"),
    Verdict.PLAYS_WITH_LIMITS: _("Plays with limits"),
    Verdict.DOES_NOT_PLAY: _("Does not play"),
    Verdict.NOT_INSPECTED: _("Not inspected"),
}
READINESS_LABELS = {
    Readiness.MAY_GO_OUT: _("May go out"),
    Readiness.WITH_LIMITS: _("May go out with limits"),
    Readiness.STAYS_IN: _("Stays in"),
}


class Level(models.TextChoices):
    STUDENT = "student", _("Student")
    INTERMEDIATE = "intermediate", _("Intermediate")


class Acquired(models.TextChoices):
    BOUGHT = "bought", _("Bought")
    GIFT = "gift", _("Gift")
    TRANSFER = "transfer", _("Transfer")
    UNKNOWN = "unknown", _("Unknown")


def fresh_on(today: date) -> Q:
    """Its inspection has not aged out."""
    return Q(ready_until__isnull=True) | Q(ready_until__gte=today)


def in_use_on(way: str = "") -> Q:
    """It is neither kept for its parts nor retired; ``way`` leads from a row to its instrument."""
    return Q(**{f"{way}is_parts_instrument": False, f"{way}is_retired": False})


LISTED = ("asset_number", "kind_code", "maker", "model", "serial", "second_number", "school", "room", "place")
HAS_SECOND = ~Q(second_number="") & Q(is_entered_in_error=False)
STATE = ("whereabouts", "verdict", "readiness", "ready_until")  # the columns that say what may be done with it


class InstrumentQuerySet(SchoolRowsQuerySet["Instrument"]):
    """Reads of instruments. A view starts from visible_to()."""

    way_to_school = "school"

    def for_table(self) -> Self:
        return self.select_related("school", "room")

    def of(self, *, school: int | None, room: int | None, kind_code: str) -> Self:
        """Those at the school, in the room (by their keys) and of the kind, as far as each is given."""
        rows = self if school is None else self.filter(school=school)
        rows = rows if room is None else rows.filter(room=room)
        return rows.filter(kind_code=kind_code) if kind_code else rows

    def present(self) -> Self:
        """Everything the district still holds: the fleet."""
        return self.exclude(whereabouts=Whereabouts.GONE)

    def out_of_fleet(self) -> Self:
        """What was the district's and left it; not what was entered in error or merged into another record."""
        return self.filter(whereabouts=Whereabouts.GONE, merged_into=None, is_entered_in_error=False)

    def in_use(self) -> Self:
        """What is neither kept for its parts nor retired."""
        return self.filter(in_use_on())

    def with_second_number(self, text: str) -> Self:
        """Those with this number on a label of before, in capitals or not. An index answers."""
        return self.alias(second=Lower("second_number")).filter(HAS_SECOND, second=text.strip().lower())

    def ready(self, *, today: date) -> Self:
        """What may go out today, with limits or without: the stored readiness, unless its inspection has aged out."""
        return self.filter(fresh_on(today), readiness__in=[Readiness.MAY_GO_OUT, Readiness.WITH_LIMITS])


class Instrument(models.Model):
    """One physical thing with an asset number. Never deleted: it becomes 'gone' and its number stays taken."""

    asset_number = models.CharField(max_length=20, unique=True)
    second_number = models.CharField(max_length=40, blank=True, default="", db_default="")  # on a label of before
    kind_code = models.CharField(max_length=40)
    level = models.CharField(max_length=16, choices=Level, default=Level.STUDENT)
    maker = models.CharField(max_length=80, blank=True)
    model = models.CharField(max_length=80, blank=True)
    serial = models.CharField(max_length=60, blank=True)  # empty: it has none
    year_made = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1700), MaxValueValidator(2100)]
    )
    options = models.JSONField(default=dict, blank=True)  # option code -> choice, as the kind offers them
    acquired_by = models.CharField(max_length=16, choices=Acquired, default=Acquired.UNKNOWN)
    acquired_on = models.DateField(null=True, blank=True)
    acquisition_cost_amount = models.DecimalField(
        max_digits=10, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    replacement_amount = models.DecimalField(
        max_digits=10, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )  # empty: the catalog's figure for its kind
    funding_source = models.CharField(max_length=120, blank=True)
    award_number = models.CharField(max_length=60, blank=True)
    federal_percent = models.DecimalField(
        max_digits=5,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(100)],
    )
    awarded_on = models.DateField(null=True, blank=True)  # which rules of disposal count hangs on it
    title_holder = models.CharField(max_length=120, blank=True)
    vendor = models.CharField(max_length=120, blank=True, default="", db_default="")
    order_number = models.CharField(max_length=60, blank=True, default="", db_default="")
    invoice_number = models.CharField(max_length=60, blank=True, default="", db_default="")
    warranty_until = models.DateField(null=True, blank=True)
    school = models.ForeignKey(School, models.PROTECT, related_name="instruments")
    room = models.ForeignKey(Room, models.PROTECT, null=True, blank=True, related_name="instruments")
    place = models.CharField(max_length=60, blank=True, default="", db_default="")  # in the room: "Shelf B, locker 12"
    notes = models.TextField(blank=True, max_length=10_000)
    registered_at = models.DateTimeField()
    fingerprint = models.CharField(max_length=64, blank=True, db_index=True)  # of the spreadsheet row it came from

    # What services keep in step with the facts, in the same transaction; never typed in.
    whereabouts = models.CharField(max_length=16, choices=Whereabouts, default=Whereabouts.IN_STORE)
    verdict = models.CharField(max_length=20, choices=VERDICT_LABELS, default=Verdict.NOT_INSPECTED)
    limits = models.JSONField(default=list, blank=True)  # plain sentences
    readiness = models.CharField(max_length=24, choices=READINESS_LABELS, default=Readiness.STAYS_IN)
    readiness_reasons = models.JSONField(default=list, blank=True)  # [{"code", "text", "clears"}]
    ready_until = models.DateField(null=True, blank=True)  # the day its inspection ages out
    inspected_at = models.DateTimeField(null=True, blank=True)
    seen_at = models.DateTimeField(null=True, blank=True)  # somebody had it in hand: counted, sampled, moved, inspected
    # Another record of the same instrument, which this one leads to: its history stays here.
    merged_into = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="merged_from")
    # Its list was taken on trust for so long; no inspection yet.
    trusted_until = models.DateField(null=True, blank=True)
    is_hygiene_due = models.BooleanField(default=False)
    is_full_cleaning_due = models.BooleanField(default=False, db_default=False)
    # It came back, and the inspection that is compared with its hand-out is still to come.
    is_return_inspection_due = models.BooleanField(default=False, db_default=False)
    # Kept for its parts; stays in.
    is_parts_instrument = models.BooleanField(default=False, db_column="is_parts_horn")
    is_retired = models.BooleanField(default=False, db_default=False)  # by a decision; stays in until a new one
    # There is no such instrument: gone, out of the counts of every day, and its serial is free again.
    is_entered_in_error = models.BooleanField(default=False, db_default=False)

    objects = InstrumentQuerySet.as_manager()

    class Meta:
        ordering = ["asset_number"]
        constraints = [
            models.UniqueConstraint(
                Lower("maker"),
                "serial",
                condition=~Q(serial="") & Q(is_entered_in_error=False),
                name="instrument_serial_in_maker",
            ),
            models.UniqueConstraint(Lower("second_number"), condition=HAS_SECOND, name="instrument_second_number_once"),
            models.CheckConstraint(
                condition=Q(acquisition_cost_amount__isnull=True) | Q(acquisition_cost_amount__gte=0),
                name="instrument_cost_not_negative",
            ),
        ]
        # What the lists filter and sort by, so that the keys of a page come from an index alone. No index begins with
        # whereabouts, verdict or readiness: each has few values, and half the fleet's rows would be read to be sorted.
        indexes = [
            models.Index(fields=["school", "kind_code", "asset_number", *STATE], name="instrument_school_list"),
            models.Index(fields=["kind_code", "asset_number", "school", *STATE], name="instrument_kind_list"),
            models.Index(fields=[*LISTED, *STATE], name="instrument_list"),
            models.Index(fields=["-inspected_at", "whereabouts", "verdict"], name="instrument_inspected"),
            models.Index(fields=["-registered_at"], name="instrument_newest"),
            models.Index(fields=["seen_at", "asset_number", *STATE], name="instrument_seen"),
        ]

    def __str__(self) -> str:
        return f"{self.asset_number} {self.kind.name}"

    @classmethod
    def check(cls, **kwargs: Any) -> list[CheckMessage]:
        """Find columns that inventory/columns.py does not declare: form, import, export and page would lack them."""
        there = {field.name for field in cls._meta.concrete_fields}
        declared = {*BY_NAME, *NOT_SHOWN}
        return [
            *super().check(**kwargs),
            *(
                Error(f"{cls.__name__}.{name} is not declared in inventory/columns.py.", obj=cls, id="inventory.E001")
                for name in sorted(there - declared)
            ),
            *(
                Error(f"inventory/columns.py declares {name}, which no column is.", obj=cls, id="inventory.E002")
                for name in sorted(declared - there)
            ),
        ]

    @property
    def owed(self) -> frozenset[Owed]:
        """The cleaning that it owes whatever its findings are."""
        due = {Owed.HYGIENE: self.is_hygiene_due, Owed.FULL: self.is_full_cleaning_due}
        return frozenset(one for one, is_due in due.items() if is_due)

    @property
    def kind(self) -> Kind:
        """Its kind as this very instrument is built: what its options rule out is left out."""
        return catalog().kind(self.kind_code).built(self.options)

    def likeness(self) -> Instrument:
        """Return one built like this one, of which nothing is known; it is saved nowhere."""
        return Instrument(kind_code=self.kind_code, options=self.options, asset_number=self.asset_number)

    @property
    def parts(self) -> tuple[Part, ...]:
        """The walk of this very instrument."""
        return self.kind.parts

    @property
    def thread(self) -> str:
        """The key under which its events are logged."""
        return f"instrument:{self.pk}"


class LockQuerySet(SchoolRowsQuerySet["Lock"]):
    view_permission = "inventory.view_lock"


class Lock(models.Model):
    """The combination of the lock behind which an instrument is kept, for those who lend it.

    It stands here alone: in no event, no file, no search. An empty one was taken away.
    """

    instrument = models.OneToOneField(Instrument, models.CASCADE, related_name="lock")
    combination = models.CharField(max_length=40, blank=True)

    objects = LockQuerySet.as_manager()

    def __str__(self) -> str:
        return f"lock {self.pk}"


class Accessory(models.Model):
    """What goes with an instrument: how many there should be and how many were there when last counted."""

    instrument = models.ForeignKey(Instrument, models.CASCADE, related_name="accessories")
    code = models.CharField(max_length=40)
    name = models.CharField(max_length=80)
    expected = models.PositiveSmallIntegerField(default=1)
    present = models.PositiveSmallIntegerField(null=True, blank=True)  # None: never counted
    is_essential = models.BooleanField(default=False)
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]
        verbose_name_plural = "accessories"
        constraints = [models.UniqueConstraint(fields=["instrument", "code"], name="accessory_once")]

    def __str__(self) -> str:
        return catalog_word(self.name)

    @property
    def is_short(self) -> bool:
        return self.present is not None and self.present < self.expected


class TagQuerySet(models.QuerySet["Tag"]):
    def live(self) -> Self:
        return self.filter(revoked_at=None)


class Tag(models.Model):
    """A QR tag: an unguessable token on an instrument, or on one of its accessories (a mouthpiece)."""

    token = models.CharField(max_length=16, unique=True)
    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="tags")
    accessory = models.ForeignKey(Accessory, models.CASCADE, null=True, blank=True, related_name="tags")
    issued_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_because = models.CharField(max_length=120, blank=True)
    printed_at = models.DateTimeField(null=True, blank=True)  # last put on a sheet of labels

    objects = TagQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["instrument"],
                condition=Q(revoked_at=None, accessory=None),
                name="tag_one_live_per_instrument",
            ),
            models.UniqueConstraint(
                fields=["accessory"], condition=Q(revoked_at=None), name="tag_one_live_per_accessory"
            ),
        ]
        indexes = [  # what waits to be printed is little beside all there is
            models.Index(fields=["instrument"], condition=Q(revoked_at=None, printed_at=None), name="tag_unprinted")
        ]

    def __str__(self) -> str:
        return self.token

    @property
    def spelled(self) -> str:
        """The token in groups of four, to be read out or typed."""
        return " ".join(self.token[start : start + 4] for start in range(0, len(self.token), 4))

    def address(self, *, home: str) -> str:
        """Its address in capitals: a code of capitals is smaller, and host names ignore case."""
        return f"{home.rstrip('/').upper()}/T/{self.token}"


class Custody(models.Model):
    """A span in which an instrument was in one kind of place. The open one says where it is now."""

    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="custodies")
    whereabouts = models.CharField(max_length=16, choices=Whereabouts)
    since = models.DateTimeField()
    until = models.DateTimeField(null=True, blank=True)
    reference = models.CharField(max_length=60, blank=True)  # "loan:12", "job:4": ids only
    undone_at = models.DateTimeField(null=True, blank=True)  # it never was there: the act was taken back
    actor = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        verbose_name_plural = "custodies"
        ordering = ["-since", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["instrument"], condition=Q(until=None), name="custody_one_open"),
            models.CheckConstraint(
                condition=Q(until__isnull=True) | Q(until__gte=F("since")), name="custody_ends_after_it_begins"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_whereabouts_display()} since {self.since:%Y-%m-%d}"


def photo_path(photo: Photo, filename: str) -> str:
    """Content-addressed, so that the same picture twice is one file and no name leaks anything."""
    return f"photos/{photo.sha256[:2]}/{photo.sha256}{'-small' if 'small' in filename else ''}.jpg"


class PhotoQuerySet(SchoolRowsQuerySet["Photo"]):
    pass


class Photo(models.Model):
    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="photos")
    inspection = models.ForeignKey(
        "inventory.Inspection", models.SET_NULL, null=True, blank=True, related_name="photos"
    )
    part = models.CharField(max_length=60, blank=True)
    sha256 = models.CharField(max_length=64)
    image = models.FileField(upload_to=photo_path)
    small = models.FileField(upload_to=photo_path)
    small_sha256 = models.CharField(max_length=64, blank=True)  # "": the file was not there when hashes were first kept
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    caption = models.CharField(max_length=200, blank=True)
    taken_at = models.DateTimeField()
    actor = models.ForeignKey(User, models.PROTECT, related_name="+")

    objects = PhotoQuerySet.as_manager()

    class Meta:
        ordering = ["-taken_at", "-pk"]

    def __str__(self) -> str:
        return self.caption or f"photo of {self.taken_at:%Y-%m-%d}"
