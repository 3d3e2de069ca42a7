"""What is written about an instrument, each column declared once.

The model says how a value is stored: its type, how long it may be, its choices. Everything else is said here, and
forms, import, export, the instrument's page, its history and the search for names read it from here. A column of the
model that is not declared fails ``manage.py check``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

VIEW: Final = "inventory.view_instrument"


def _(text: str) -> str:
    """Mark a text for translation; it is translated where it is shown."""
    return text


@dataclass(frozen=True, slots=True, kw_only=True)
class ListColumn:
    """What a column of somebody's inventory list may hold.

    ``reads`` names the way its cells are read (READERS of inventory/rules/intake/row.py); "" for what no list brings.
    ``headings`` are the words people write above it besides its label, with commas between.
    """

    name: str
    label: str
    code: str = ""  # what stored choices of columns call it, where that is not its name
    reads: str = ""
    headings: str = ""
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
    is_free_text: bool = False  # may name a person: names are searched for in it, and the log never repeats it
    permission: str = VIEW  # who may see it

    @property
    def is_logged(self) -> bool:
        """Say whether the log may repeat its values: everybody who sees the instrument reads the log."""
        return not self.is_free_text and self.permission == VIEW


COLUMNS: Final = (
    Column(
        name="asset_number",
        label=_("Asset number"),
        form="new",
        fact="",
        reads="number",
        headings=(
            "asset, asset id, asset tag, asset tag number, tag, tag number, tag id, barcode, bar code, barcode number, "
            "inventory number, inventory id, inventory tag, inventory, inv number, inv, inst number, instrument "
            "number, instrument id, inst id, school number, school id, school id number, district number, district "
            "id, district tag, district asset number, district inventory number, property number, property tag, "
            "property id, equipment number, item number, item id, id number, id, number, control number, decal, decal "
            "number, horn number, fixed asset number"
        ),
    ),
    Column(
        name="kind_code",
        code="kind",
        label=_("Kind"),
        form="",
        fact="",
        reads="kind",
        headings=(
            "instrument, inst, instr, instrument type, instrument name, instrument kind, type, type of instrument, "
            "item, description, item description, instrument description, desc, equipment, horn, name, article"
        ),
    ),
    Column(
        name="serial",
        label=_("Serial"),
        help=_("Leave empty if it has none."),
        empty=_("none"),
        form="first",
        reads="number",
        headings="serial number, s n, sn, ser, ser number, serial id, s number, instrument serial number",
    ),
    Column(
        name="maker",
        label=_("Maker"),
        form="first",
        fact=_("Maker and model"),
        headings="make, brand, manufacturer, mfr, mfg, manuf, mfgr, brand name, company, made by, manufactured by",
    ),
    Column(
        name="model",
        label=_("Model"),
        fact=_("Maker and model"),
        headings="model number, mod, model name, mdl, make and model, make model, brand model",
    ),
    Column(
        name="level",
        label=_("Level"),
        reads="level",
        may_be_noted=True,
        headings="grade of instrument, instrument level, quality, class, student or intermediate, line",
    ),
    Column(
        name="year_made",
        label=_("Year made"),
        reads="year",
        headings=(
            "year, yr, year built, year of manufacture, year manufactured, mfg year, date made, manufacture date, "
            "built, vintage, yr made"
        ),
    ),
    Column(name="options", label=_("Options"), form="more", reads=""),
    Column(
        name="school",
        label=_("School"),
        form="first",
        fact="",
        headings=(
            "bldg, building, campus, site, school name, home school, location school, school code, site code, school "
            "site, loc code"
        ),
    ),
    Column(
        name="room",
        label=_("Room"),
        form="first",
        fact="",
        headings=(
            "rm, room number, rm number, location, loc, storage, storage location, stored in, shelf, locker, locker "
            "number, closet, cabinet, bin"
        ),
    ),
    Column(name="whereabouts", label=_("Whereabouts"), form="", fact="", reads=""),
    Column(name="verdict", label=_("Verdict"), form="", fact="", reads=""),
    Column(name="limits", label=_("Limits"), form="", fact="", reads=""),
    Column(name="readiness", label=_("Readiness"), form="", fact="", reads=""),
    Column(name="readiness_reasons", label=_("Reasons"), form="", fact="", reads=""),
    Column(name="inspected_at", label=_("Inspected on"), form="", fact="", reads=""),
    Column(
        name="acquired_by",
        label=_("Acquired by"),
        form="first",
        reads="acquired_by",
        may_be_noted=True,
        headings=(
            "how acquired, acquisition method, acquisition type, method of acquisition, acquisition, how obtained, "
            "purchased or donated, purchase or donation, purchase donation, donated or purchased, origin, obtained, "
            "source"
        ),
    ),
    Column(
        name="acquired_on",
        label=_("Acquired on"),
        reads="date",
        headings=(
            "acquired, date acquired, acquisition date, acq date, purch date, purchase date, date purchased, date of "
            "purchase, purchased, purchased on, bought, date bought, bought on, date received, received, received on, "
            "date, date in, in service, in service date, date in service, year purchased, purchase year, year "
            "acquired, yr purchased, purch yr, purchase dt"
        ),
    ),
    Column(
        name="acquisition_cost_amount",
        code="cost",
        label=_("Cost"),
        help=_("In dollars."),
        fact="",
        reads="money",
        headings=(
            "cost dollars, price, purchase price, purch price, purchase cost, original cost, orig cost, acquisition "
            "cost, acq cost, unit cost, unit price, amount, amount paid, paid, cost usd, price dollars, original "
            "price, dollars, purchase amount"
        ),
    ),
    Column(
        name="replacement_amount",
        label=_("Replacement cost"),
        help=_("In dollars. Leave empty to use the catalog's figure for its kind."),
        fact="",
        reads="",
    ),
    Column(
        name="funding_source",
        label=_("Funding source"),
        is_free_text=True,
        headings=(
            "fund, funds, funding, source of funds, fund source, account, account code, budget, budget code, funded "
            "by, paid by, paid from, fund code, purchased with"
        ),
    ),
    Column(
        name="award_number",
        label=_("Award number"),
        help=_("Of the grant that paid for it."),
        reads="number",
        headings=(
            "award, award id, grant number, grant, grant id, grant award number, fain, federal award number, contract "
            "number"
        ),
    ),
    Column(
        name="federal_percent",
        code="federal_share",
        label=_("Federal percent"),
        help=_("The share of its cost that a federal award paid."),
        fact="",
        reads="share",
        headings=(
            "federal share, fed percent, percent federal, fed share, federal participation, federal percentage, "
            "percent fed, federal share percent, percentage federal"
        ),
    ),
    Column(
        name="title_holder",
        label=_("Title holder"),
        help=_("Leave empty if it is the district."),
        is_free_text=True,
        headings="title, owner, owned by, ownership, property of, title held by, titleholder",
    ),
    Column(
        name="notes",
        label=_("Notes"),
        fact="",
        reads="note",
        several=True,
        is_free_text=True,
        headings="note, comments, comment, remarks, remark, memo, other, misc, miscellaneous, additional notes, info",
    ),
)

# Columns of the model that are neither typed nor written out: keys, and what is shown in words of its own.
NOT_SHOWN: Final = frozenset({"id", "registered_at", "fingerprint", "ready_until", "is_hygiene_due", "is_parts_horn"})

LIST_ONLY: Final = (
    ListColumn(
        name="size",
        label=_("Size"),
        reads="size",
        headings="sz, instrument size, drum size, bore, size in, size inches, diameter",
    ),
    ListColumn(
        name="valves",
        label=_("Valves"),
        reads="valves",
        may_be_noted=True,
        headings="number of valves, number valves, valve count, valve",
    ),
    ListColumn(
        name="tuned_in",
        code="key",
        label=_("Key"),
        reads="key",
        may_be_noted=True,
        headings="pitch, pitched in, key of, instrument key",
    ),
    ListColumn(
        name="donor",
        label=_("Donor"),
        reads="text",
        headings="donated by, given by, gift of, gift from, donor name, donation from",
    ),
    ListColumn(
        name="condition",
        label=_("Condition"),
        reads="note",
        several=True,
        headings=(
            "cond, condition notes, state, condition code, repair needed, repairs needed, needs, needs repair, damage, "
            "repair notes, playing condition, problems, problem, issues, condition comments"
        ),
    ),
    ListColumn(
        name="accessories",
        label=_("Accessories"),
        reads="accessories",
        several=True,
        headings=(
            "acc, acces, access, includes, included, included accessories, case, mouthpiece, mpc, mp, mpce, mouthpc, "
            "bow, neck, strap, ligature, case condition, with, parts included, case y n, mouthpiece y n, mpc y n, "
            "stand, mallets, lyre"
        ),
    ),
    ListColumn(
        name="place",
        code="whereabouts",
        label=_("Whereabouts"),
        reads="nothing",
        several=True,
        headings="status, availability, in out, current location, disposition, checked out, out",
        stays_out=_("Hornbook keeps track of where an instrument is. It starts in storage."),
    ),
    ListColumn(
        name="student",
        label=_("Student"),
        reads="nothing",
        several=True,
        headings=(
            "student name, assigned to, assigned, issued to, checked out to, loaned to, lent to, borrower, player, "
            "user, who has it, student id, last name, first name, current student, signed out to, renter, grade, "
            "student grade, parent, guardian, phone"
        ),
        stays_out=_("Who has an instrument is recorded by lending it, with a signed agreement."),
    ),
    ListColumn(
        name="value",
        label=_("Value"),
        reads="nothing",
        several=True,
        headings=(
            "current value, replacement value, replacement cost, est value, estimated value, insured value, market "
            "value, book value"
        ),
        stays_out=_("Today's value is calculated. Choose Cost if this is what was paid."),
    ),
    ListColumn(
        name="quantity",
        label=_("Quantity"),
        reads="quantity",
        headings="qty, count, how many, on hand",
        stays_out=_("Each row is one instrument; a row that counts more is reported."),
    ),
)

BY_NAME: Final = {column.name: column for column in COLUMNS}
# By what a stored choice of columns calls it, in the order in which a page offers them.
IN_LISTS: Final[dict[str, ListColumn]] = {column.key: column for column in (*COLUMNS, *LIST_ONLY) if column.reads}

# Words that decide inside a longer heading; the first that is there wins. Common practice, no source.
TELLING_WORDS: Final = (
    ("serial", ("serial", "s n", "sn")),
    ("award_number", ("award", "grant number", "fain")),
    ("federal_share", ("federal", "fed")),
    ("value", ("value", "replacement")),
    ("cost", ("cost", "price", "dollars")),
    ("donor", ("donor", "donated by")),
    ("acquired_on", ("date purchased", "purchase date", "date acquired", "purchased", "acquired", "purch")),
    ("student", ("student", "assigned", "issued", "loaned", "checked out")),
    ("asset_number", ("asset", "barcode", "tag", "inventory number", "inventory", "inst number")),
    ("maker", ("make", "maker", "brand", "manufacturer", "mfr")),
    ("model", ("model",)),
    ("condition", ("condition", "cond", "repair", "damage")),
    ("accessories", ("accessories", "mouthpiece", "mpc", "case")),
    ("funding_source", ("fund", "funding", "funds", "budget")),
    ("year_made", ("year", "yr")),
    ("room", ("room", "rm", "location", "storage", "locker")),
    ("school", ("school", "bldg", "building", "campus")),
    ("notes", ("notes", "comments", "remarks")),
    ("kind", ("instrument", "inst", "instr", "kind")),
    ("size", ("size",)),
    ("valves", ("valves",)),
)
