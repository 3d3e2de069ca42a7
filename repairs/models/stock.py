"""What lies on a bench: stock with its moves, instruments kept for parts, and where their parts went."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, Self

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from core.models import AppendOnlyQuerySet, NeverDeleted, User
from inventory.catalog.load import catalog
from inventory.catalog.load.language import catalog_word
from inventory.models import Instrument, SchoolRowsQuerySet, Whereabouts
from repairs.models.shops import RepairBudget
from repairs.models.work import Attempt, Bench, Job
from repairs.rules.bounds import LARGEST_MOVE, MOST, MOST_EACH, MOST_ON_RECORD, MOST_PAID, price_each

# A bottle lasts fifty instruments: parts of a unit count.
QUANTITY: dict[str, Any] = {"max_digits": 9, "decimal_places": 3}


class StockItemQuerySet(SchoolRowsQuerySet["StockItem"]):
    way_to_school = "bench__school"
    view_permission = "repairs.view_stock"

    def in_use(self) -> Self:
        return self.filter(retired_at=None)

    def under_level(self) -> Self:
        return self.in_use().filter(quantity__lt=F("reorder_level"))


class StockItem(models.Model):
    """One thing a bench keeps: a consumable of the catalog, or a part described freely (``code`` is then empty).

    ``quantity`` is the sum of the moves. It may fall below nothing: then more was used than was ever booked in, and
    somebody should count. ``price_amount`` follows from the last receipt with a price that was not reversed, of those
    after the move ``typed_after``; without one it is what somebody typed. A retired item has nothing left.
    """

    bench = models.ForeignKey(Bench, models.PROTECT, related_name="stock")
    code = models.CharField(max_length=40, blank=True)
    name = models.CharField(max_length=80)
    unit = models.CharField(max_length=20, blank=True)
    fits_maker = models.CharField("fits maker", max_length=80, blank=True)
    fits_model = models.CharField("fits model", max_length=80, blank=True)
    quantity = models.DecimalField(default=Decimal(0), editable=False, **QUANTITY)
    reorder_level = models.DecimalField(
        default=Decimal(0), validators=[MinValueValidator(0), MaxValueValidator(MOST)], **QUANTITY
    )
    price_amount = models.DecimalField(
        max_digits=8, decimal_places=2, null=True, blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(MOST_EACH)],
    )  # fmt: skip
    typed_amount = models.DecimalField(max_digits=8, decimal_places=2, null=True, editable=False)
    typed_after = models.BigIntegerField(default=0, editable=False)
    place = models.CharField(max_length=60, blank=True)  # drawer, shelf
    supplier = models.CharField(max_length=80, blank=True)
    part_number = models.CharField("part number", max_length=40, blank=True)
    retired_at = models.DateTimeField(null=True, editable=False)
    retired_by = models.ForeignKey(User, models.PROTECT, null=True, editable=False, related_name="+")

    objects = StockItemQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["bench", "code"], condition=~Q(code=""), name="stock_code_once"),
            models.UniqueConstraint(
                F("bench"), Lower("name"), Lower("fits_maker"), Lower("fits_model"),
                condition=Q(code=""), name="stock_part_once",
            ),
            models.CheckConstraint(condition=Q(reorder_level__gte=0), name="stock_level_not_negative"),
            models.CheckConstraint(condition=Q(reorder_level__lte=MOST), name="stock_level_believed"),
            models.CheckConstraint(condition=Q(price_amount__range=(0, MOST_EACH)), name="stock_price_believed"),
            models.CheckConstraint(
                condition=Q(quantity__range=(-MOST_ON_RECORD, MOST_ON_RECORD)), name="stock_quantity_believed"
            ),
            models.CheckConstraint(
                condition=Q(retired_at=None) | Q(quantity=0, retired_by__isnull=False), name="stock_retired_empty"
            ),
        ]  # fmt: skip

    def __str__(self) -> str:
        return catalog_word(self.name, "consumables") if self.code else self.name

    @property
    def shown_unit(self) -> str:
        """The unit in the reader's language; ``unit`` is as it was stored."""
        return catalog_word(self.unit, "consumables") if self.code else self.unit

    @property
    def fits(self) -> str:
        return " ".join(word for word in (self.fits_maker, self.fits_model) if word)

    @property
    def each_amount(self) -> Decimal | None:
        """What one unit costs: the bench's own price, else the middle of the catalog's."""
        if self.price_amount is not None:
            return self.price_amount
        known = catalog().consumables.get(self.code)
        return known.middle.quantize(Decimal("0.01")) if known else None


class StockMoveQuerySet(AppendOnlyQuerySet["StockMove"]):
    """Moves are only ever added to; a mistake is put right by a reversal or a count."""

    def that_say_a_price(self) -> Self:
        """Receipts with what was paid that were not reversed, latest first."""
        return self.filter(why=StockMove.Why.RECEIVED, amount__gt=0, reversed_by=None).order_by("-pk")


class StockMove(NeverDeleted):
    """So much more or less of an item, and why."""

    called = "stock moves"

    class Why(models.TextChoices):
        RECEIVED = "received", _("Received")
        USED = "used", _("Used")
        COUNTED = "counted", _("Counted")
        MOVED = "moved", _("Moved")
        REVERSED = "reversed", _("Reversed")

    item = models.ForeignKey(StockItem, models.PROTECT, related_name="moves")
    why = models.CharField(max_length=8, choices=Why)
    quantity = models.DecimalField(**QUANTITY)  # signed
    after_quantity = models.DecimalField(**QUANTITY)
    amount = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)  # paid, for all of it
    budget = models.ForeignKey(RepairBudget, models.PROTECT, null=True, blank=True, related_name="stock_moves")
    attempt = models.ForeignKey(Attempt, models.PROTECT, null=True, blank=True, related_name="stock_moves")
    reverses = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="reversed_by")
    # Of what came from another bench: the move that took it from there.
    moved_from = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="moved_to")
    note = models.CharField(max_length=200, blank=True)
    nonce = models.UUIDField(unique=True)
    at = models.DateTimeField()
    actor = models.ForeignKey(User, models.PROTECT, related_name="+")

    objects = StockMoveQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(why="received") | Q(quantity__gt=0), name="stock_move_received_adds"),
            models.CheckConstraint(condition=~Q(why="used") | Q(quantity__lt=0), name="stock_move_used_takes"),
            models.CheckConstraint(
                condition=Q(why="reversed", reverses__isnull=False) | (~Q(why="reversed") & Q(reverses=None)),
                name="stock_move_reverses_one",
            ),
            models.CheckConstraint(
                condition=Q(moved_from=None) | Q(why="moved", quantity__gt=0), name="stock_move_from_another"
            ),
            models.CheckConstraint(
                condition=Q(quantity__range=(-LARGEST_MOVE, LARGEST_MOVE)), name="stock_move_believed"
            ),
            models.CheckConstraint(condition=Q(amount__range=(0, MOST_PAID)), name="stock_move_amount_believed"),
            models.UniqueConstraint(
                fields=["item", "attempt"], condition=Q(attempt__isnull=False), name="stock_move_once_per_attempt"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_why_display()} {self.quantity:+}"

    @property
    def each_amount(self) -> Decimal | None:
        """What one piece of a receipt cost; None where nothing was said, or more than is believed."""
        if not self.amount or self.why != self.Why.RECEIVED:
            return None
        return price_each(paid=self.amount, quantity=self.quantity)

    @property
    def reversal(self) -> StockMove | None:
        """The move that took this one back. One query, none where it was joined."""
        return getattr(self, "reversed_by", None)


class PartsInstrumentQuerySet(SchoolRowsQuerySet["PartsInstrument"]):
    view_permission = "repairs.view_stock"

    def standing(self) -> Self:
        return self.filter(ended_at=None)

    def there(self) -> Self:
        """Return the standing ones that the district still has."""
        return self.standing().exclude(instrument__whereabouts=Whereabouts.GONE)


class PartsInstrument(models.Model):
    """An instrument kept for its parts: it stays in, and gives what others need."""

    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="parts_instruments")
    because = models.CharField(max_length=200)
    marked_at = models.DateTimeField()
    marked_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)  # it is to play again after all
    ended_because = models.CharField(max_length=200, blank=True)

    objects = PartsInstrumentQuerySet.as_manager()

    class Meta:
        db_table = "repairs_partshorn"
        ordering = ["-marked_at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["instrument"], condition=Q(ended_at=None), name="parts_horn_once"),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(ended_at__gte=F("marked_at")), name="parts_horn_ends_later"
            ),
        ]

    def __str__(self) -> str:
        return f"parts instrument {self.instrument_id}"


class TakenPartQuerySet(SchoolRowsQuerySet["TakenPart"]):
    way_to_school = "parts_instrument__instrument__school"
    view_permission = "repairs.view_stock"

    def gone(self) -> Self:
        """What its instrument no longer has: it was taken, and not put back."""
        return self.filter(went__in=TakenPart.GONE)

    def moved(self, instrument: Instrument) -> Self:
        """What went onto this instrument, or came off it."""
        mine = PartsInstrument.objects.filter(instrument=instrument).values("pk")
        return self.filter(Q(onto=instrument) | Q(parts_instrument__in=mine))

    def for_lines(self) -> Self:
        """With what a line about it says, the latest first."""
        joined = (
            "parts_instrument__instrument__school",
            "onto__school",
            "taken_by",
            "went_by",
            "shelf_item__bench",
        )
        return self.select_related(*joined).order_by("-taken_at", "pk")


class TakenPart(models.Model):
    """One part of a parts instrument that went onto another. ``batch`` is shared by what was taken as a set.

    A part that does not fit went back, or on a shelf as stock; a slip never was where it says. That is written once,
    and what is taken again afterward has a row of its own.
    """

    class Fit(models.TextChoices):
        UNKNOWN = "", _("Not said yet")
        FITS = "fits", _("Fits")
        DOES_NOT = "does_not", _("Does not fit")

    class Went(models.TextChoices):
        NOWHERE = "", _("On the other instrument")
        BACK = "back", _("Back where it came from")
        SHELF = "shelf", _("On a shelf, as stock")
        SLIP = "slip", _("Entered by mistake")

    GONE = (Went.NOWHERE, Went.SHELF)

    parts_instrument = models.ForeignKey(
        PartsInstrument, models.PROTECT, related_name="taken", db_column="parts_horn_id"
    )
    part = models.CharField(max_length=60)
    place = models.CharField(max_length=40, blank=True)
    onto = models.ForeignKey(Instrument, models.PROTECT, related_name="donor_parts")
    job = models.ForeignKey(Job, models.PROTECT, null=True, blank=True, related_name="donor_parts")
    batch = models.UUIDField()  # of the form it came by: posted twice, taken once
    fit = models.CharField(max_length=8, choices=Fit, blank=True, default=Fit.UNKNOWN)
    note = models.CharField(max_length=200, blank=True)
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    went = models.CharField(max_length=8, choices=Went, blank=True, default=Went.NOWHERE)
    went_at = models.DateTimeField(null=True, blank=True)
    went_by = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="+")
    went_because = models.CharField(max_length=200, blank=True)
    shelf_item = models.ForeignKey(StockItem, models.PROTECT, null=True, blank=True, related_name="taken_parts")

    objects = TakenPartQuerySet.as_manager()

    class Meta:
        ordering = ["-taken_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["parts_instrument", "part", "place"],
                condition=Q(went__in=["", "shelf"]),
                name="taken_part_once",
            ),
            models.CheckConstraint(
                condition=Q(went="", went_at__isnull=True, went_by__isnull=True)
                | (~Q(went="") & Q(went_at__isnull=False, went_by__isnull=False)),
                name="taken_part_went_by_somebody",
            ),
            models.CheckConstraint(
                condition=~Q(went="shelf") | Q(shelf_item__isnull=False), name="taken_part_on_a_shelf_is_stock"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.part} {self.place}".strip()
