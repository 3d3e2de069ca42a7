"""What is written about an instrument, each column declared once.

The model says how a value is stored: its type, how long it may be, its choices. Everything else is said here, and
forms, import, export, the instrument's page, its history and the search for names read it from here. A column of the
model that is not declared fails ``manage.py check``.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from pathlib import Path
from typing import Final, Literal

import yaml

VIEW: Final = "inventory.view_instrument"


def _(text: str) -> str:
    """Mark a text for translation; it is translated where it is shown."""
    return text


@dataclass(frozen=True, slots=True)
class ListColumn:
    """What a column of somebody's inventory list may hold.

    ``reads`` names the way its cells are read (READERS of inventory/rules/intake/row.py); "" for what no list brings.
    fixtures/headings.yaml has the words that people write above it besides its label.
    """

    name: str
    label: str
    _: KW_ONLY
    code: str = ""  # what stored choices of columns call it, where that is not its name
    reads: str = ""
    several: bool = False  # more than one column of a list may hold it
    may_be_noted: bool = False  # a cell that cannot be read goes into the notes and keeps nothing out
    stays_out: str = ""  # why it is recognized and not kept

    @property
    def key(self) -> str:
        return self.code or self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Column(ListColumn):
    """A column of the instrument's row: ``name`` is the model's."""

    reads: str = "text"
    help: str = ""
    form: Literal["", "new", "first", "more"] = "more"  # asked once, always, or under "More"; "": services keep it
    fact: str | None = None  # heading on the instrument's page, where not the label; "" keeps it off
    empty: str = ""  # what the page says of a value that is not there
    is_exported: bool = True
    # How the log keeps it. "typed": what somebody typed, which may name a person, stands in a revision that can be
    # erased, and names are searched for in it; "value": a code, day or amount stands in the event; "": acts of its own.
    log: Literal["typed", "value", ""] = "typed"
    event_key: str = ""  # what events call it, where that is not its name
    permission: str = VIEW  # who may see it

    @property
    def in_events(self) -> str:
        return self.event_key or self.name


COLUMNS: Final = (
    Column("asset_number", _("Asset number"), form="new", fact="", reads="number", log="value"),
    Column(
        "second_number",
        _("Second number"),
        help=_("On a label it had before, such as the district's bar code. It is found and scanned like ours."),
        reads="number",
    ),
    Column("kind_code", _("Kind"), code="kind", form="", fact="", reads="kind", log="value", event_key="kind"),
    Column("serial", _("Serial"), help=_("Leave empty if it has none."), empty=_("none"), form="first", reads="number"),
    Column("maker", _("Maker"), form="first", fact=_("Maker and model")),
    Column("model", _("Model"), fact=_("Maker and model")),
    Column("level", _("Level"), reads="level", may_be_noted=True, log="value"),
    Column("year_made", _("Year made"), reads="year", log="value"),
    Column("options", _("Options"), reads="", log="value"),
    Column("school", _("School"), form="first", fact="", log="value"),
    Column("room", _("Room"), form="first", fact="", log="value"),
    Column("place", _("Place in the room"), help=_("A shelf, cabinet or locker number. Not the lock's combination.")),
    Column("whereabouts", _("Whereabouts"), form="", fact="", reads="", log=""),
    Column("verdict", _("Verdict"), form="", fact="", reads="", log=""),
    Column("limits", _("Limits"), form="", fact="", reads="", log=""),
    Column("readiness", _("Readiness"), form="", fact="", reads="", log=""),
    Column("readiness_reasons", _("Reasons"), form="", fact="", reads="", log=""),
    Column("inspected_at", _("Inspected on"), form="", fact="", reads="", log=""),
    Column("seen_at", _("Last seen"), empty=_("not since it was registered"), form="", reads="", log=""),
    Column("acquired_by", _("Acquired by"), form="first", reads="acquired_by", may_be_noted=True, log="value"),
    Column("acquired_on", _("Acquired on"), reads="date", log="value"),
    Column(
        "acquisition_cost_amount", _("Cost"), code="cost", help=_("In dollars."), fact="", reads="money", log="value"
    ),
    Column(
        "replacement_amount",
        _("Replacement cost"),
        help=_("In dollars. Leave empty to use the catalog's figure for its kind."),
        fact="",
        reads="",
        log="value",
    ),
    Column("funding_source", _("Funding source")),
    Column("award_number", _("Award number"), help=_("Of the grant that paid for it."), reads="number"),
    Column(
        "federal_percent",
        _("Federal percent"),
        code="federal_share",
        help=_("The share of its cost that a federal award paid."),
        fact="",
        reads="share",
        log="value",
    ),
    Column("awarded_on", _("Award date"), help=_("Of the grant that paid for it."), reads="date", log="value"),
    Column("title_holder", _("Title holder"), help=_("Leave empty if it is the district.")),
    Column("vendor", _("Vendor"), help=_("Who sold it.")),
    Column("order_number", _("Purchase order"), reads="number"),
    Column("invoice_number", _("Invoice number"), reads="number"),
    Column("warranty_until", _("Warranty until"), reads="date", log="value"),
    Column("notes", _("Notes"), fact="", reads="note", several=True),
)

# Columns of the model that are neither typed nor written out: keys, and what is shown in words of its own.
NOT_SHOWN: Final = frozenset(
    {
        "id",
        "registered_at",
        "fingerprint",
        "ready_until",
        "trusted_until",
        "merged_into",
        "is_hygiene_due",
        "is_full_cleaning_due",
        "is_return_inspection_due",
        "is_parts_instrument",
        "is_retired",
        "is_entered_in_error",
    }
)

LIST_ONLY: Final = (
    ListColumn("maker_model", _("Maker and model together"), reads="maker_model"),
    ListColumn("size", _("Size"), reads="size"),
    ListColumn(
        "combination",
        _("Lock combination"),
        reads="nothing",
        several=True,
        stays_out=_("Type it on the instrument's page, where only those who lend see it."),
    ),
    ListColumn("valves", _("Valves"), reads="valves", may_be_noted=True),
    ListColumn("key", _("Key"), reads="key", may_be_noted=True),
    ListColumn("donor", _("Donor"), reads="text"),
    ListColumn("condition", _("Condition"), reads="note", several=True),
    ListColumn("accessories", _("Accessories"), reads="accessories", several=True),
    ListColumn(
        "whereabouts",
        _("Whereabouts"),
        reads="nothing",
        several=True,
        stays_out=_("Hornbook keeps track of where an instrument is. It starts in storage."),
    ),
    ListColumn("student", _("Assigned to"), reads="text", may_be_noted=True),
    ListColumn("student_first", _("Student's first name"), reads="text", may_be_noted=True),
    ListColumn("student_last", _("Student's last name"), reads="text", may_be_noted=True),
    ListColumn("student_grade", _("Student's grade"), reads="text", may_be_noted=True),
    ListColumn("out_since", _("Out since"), reads="date", may_be_noted=True),
    ListColumn("due_on", _("Due back"), reads="due", may_be_noted=True),
    ListColumn(
        "family",
        _("Family"),
        reads="nothing",
        several=True,
        stays_out=_("How a family is reached is kept with the student, not in a list of instruments."),
    ),
    ListColumn(
        "value",
        _("Value"),
        reads="nothing",
        several=True,
        stays_out=_("Today's value is calculated. Choose Cost if this is what was paid."),
    ),
    ListColumn(
        "quantity",
        _("Quantity"),
        reads="quantity",
        stays_out=_("Each row is one instrument; a row that counts more is reported."),
    ),
)

BY_NAME: Final = {column.name: column for column in COLUMNS}
TYPED: Final = tuple(column.name for column in COLUMNS if column.log == "typed")
VALUES: Final = {column.name: column.in_events for column in COLUMNS if column.log == "value"}
# By what a stored choice of columns calls it, in the order in which a page offers them.
IN_LISTS: Final[dict[str, ListColumn]] = {column.key: column for column in (*COLUMNS, *LIST_ONLY) if column.reads}

# The words people write above columns, as data.
_WORDS: Final = yaml.safe_load((Path(__file__).parent.parent / "fixtures" / "headings.yaml").read_text("utf-8"))
HEADINGS: Final[dict[str, tuple[str, ...]]] = {
    key: (column.label, *_WORDS["headings"].get(key, column.label).split(", ")) for key, column in IN_LISTS.items()
}
TELLING_WORDS: Final[tuple[tuple[str, tuple[str, ...]], ...]] = tuple(
    (key, tuple(words.split(", "))) for key, words in _WORDS["inside"].items()
)

# A word that may mean several kinds, and their codes.
LOOSE_KINDS: Final[dict[str, tuple[str, ...]]] = {
    word: tuple(kinds.split(", ")) for words, kinds in _WORDS["loose"].items() for word in words.split(", ")
}
NOBODY: Final = frozenset(_WORDS["nobody"].split(", "))
SECTIONS: Final = frozenset(_WORDS["sections"].split(", "))

# Columns that our own sheet of problem rows adds; they are not data when it comes back.
ROW_COLUMN: Final = "Row"
PROBLEM_COLUMN: Final = "Problem"
MARK_COLUMN: Final = "Row mark"
