"""What a column of somebody's inventory list may hold, and the words people write above it."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from enum import StrEnum
from typing import Final


class IntakeField(StrEnum):
    """What one column is about. The last four are recognized, but no value of the instrument."""

    ASSET_NUMBER = "asset_number"
    KIND = "kind"
    LEVEL = "level"
    MAKER = "maker"
    MODEL = "model"
    SERIAL = "serial"
    YEAR_MADE = "year_made"
    SIZE = "size"
    VALVES = "valves"
    KEY = "key"
    ACQUIRED_BY = "acquired_by"
    ACQUIRED_ON = "acquired_on"
    COST = "cost"
    FUNDING_SOURCE = "funding_source"
    AWARD_NUMBER = "award_number"
    FEDERAL_SHARE = "federal_share"
    TITLE_HOLDER = "title_holder"
    DONOR = "donor"
    SCHOOL = "school"
    ROOM = "room"
    CONDITION = "condition"
    ACCESSORIES = "accessories"
    NOTES = "notes"
    WHEREABOUTS = "whereabouts"
    STUDENT = "student"
    VALUE = "value"
    QUANTITY = "quantity"

    @property
    def label(self) -> str:
        return self.value.replace("_", " ").capitalize()


MANY_COLUMNS: Final = frozenset(
    {IntakeField.CONDITION, IntakeField.ACCESSORIES, IntakeField.NOTES, IntakeField.WHEREABOUTS, IntakeField.STUDENT}
    | {IntakeField.VALUE}
)

STAYS_OUT: Final = {
    IntakeField.WHEREABOUTS: "Where an instrument is follows from what is done with it. It starts in store.",
    IntakeField.STUDENT: "Who has an instrument is recorded by lending it, with a signed agreement.",
    IntakeField.VALUE: "What an instrument is worth today is computed. Choose Cost if this is what was paid.",
    IntakeField.QUANTITY: "Each row is one instrument; a row that counts more is reported.",
}

# Columns that our own sheet of problem rows adds; they are not data when it comes back.
ROW_COLUMN: Final = "Row"
PROBLEM_COLUMN: Final = "Problem"
MARK_COLUMN: Final = "Row mark"
OWN_COLUMNS: Final = (ROW_COLUMN, PROBLEM_COLUMN, MARK_COLUMN)

# Common practice, no source: headings as school inventory lists have them, normalised as below.
SYNONYMS: Final[dict[IntakeField, str]] = {
    IntakeField.ASSET_NUMBER: (
        "asset number, asset, asset id, asset tag, asset tag number, tag, tag number, tag id, barcode, bar "
        "code, barcode number, inventory number, inventory id, inventory tag, inventory, inv number, inv, "
        "inst number, instrument number, instrument id, inst id, school number, school id, school id number, "
        "district number, district id, district tag, district asset number, district inventory number, "
        "property number, property tag, property id, equipment number, item number, item id, id number, id, "
        "number, control number, decal, decal number, horn number, fixed asset number"
    ),
    IntakeField.KIND: (
        "kind, instrument, inst, instr, instrument type, instrument name, instrument kind, type, type of "
        "instrument, item, description, item description, instrument description, desc, equipment, horn, "
        "name, article"
    ),
    IntakeField.LEVEL: ("level, grade of instrument, instrument level, quality, class, student or intermediate, line"),
    IntakeField.MAKER: (
        "maker, make, brand, manufacturer, mfr, mfg, manuf, mfgr, brand name, company, made by, manufactured by"
    ),
    IntakeField.MODEL: ("model, model number, mod, model name, mdl, make and model, make model, brand model"),
    IntakeField.SERIAL: (
        "serial, serial number, s n, sn, ser, ser number, serial id, s number, instrument serial number"
    ),
    IntakeField.YEAR_MADE: (
        "year made, year, yr, year built, year of manufacture, year manufactured, mfg year, date made, "
        "manufacture date, built, vintage, yr made"
    ),
    IntakeField.SIZE: ("size, sz, instrument size, drum size, bore, size in, size inches, diameter"),
    IntakeField.VALVES: ("valves, number of valves, number valves, valve count, valve"),
    IntakeField.KEY: ("key, pitch, pitched in, key of, instrument key"),
    IntakeField.ACQUIRED_BY: (
        "acquired by, how acquired, acquisition method, acquisition type, method of acquisition, acquisition, "
        "how obtained, purchased or donated, purchase or donation, purchase donation, donated or purchased, "
        "origin, obtained, source"
    ),
    IntakeField.ACQUIRED_ON: (
        "acquired on, acquired, date acquired, acquisition date, acq date, purch date, purchase date, date "
        "purchased, date of purchase, purchased, purchased on, bought, date bought, bought on, date received, "
        "received, received on, date, date in, in service, in service date, date in service, year purchased, "
        "purchase year, year acquired, yr purchased, purch yr, purchase dt"
    ),
    IntakeField.COST: (
        "cost, cost dollars, price, purchase price, purch price, purchase cost, original cost, orig cost, "
        "acquisition cost, acq cost, unit cost, unit price, amount, amount paid, paid, cost usd, price "
        "dollars, original price, dollars, purchase amount"
    ),
    IntakeField.FUNDING_SOURCE: (
        "funding source, fund, funds, funding, source of funds, fund source, account, account code, budget, "
        "budget code, funded by, paid by, paid from, fund code, purchased with"
    ),
    IntakeField.AWARD_NUMBER: (
        "award number, award, award id, grant number, grant, grant id, grant award number, fain, federal "
        "award number, contract number"
    ),
    IntakeField.FEDERAL_SHARE: (
        "federal share, federal percent, fed percent, percent federal, fed share, federal participation, "
        "federal percentage, percent fed, federal share percent, percentage federal"
    ),
    IntakeField.TITLE_HOLDER: (
        "title holder, title, owner, owned by, ownership, property of, title held by, titleholder"
    ),
    IntakeField.DONOR: ("donor, donated by, given by, gift of, gift from, donor name, donation from"),
    IntakeField.SCHOOL: (
        "school, bldg, building, campus, site, school name, home school, location school, school code, site "
        "code, school site, loc code"
    ),
    IntakeField.ROOM: (
        "room, rm, room number, rm number, location, loc, storage, storage location, stored in, shelf, "
        "locker, locker number, closet, cabinet, bin"
    ),
    IntakeField.CONDITION: (
        "condition, cond, condition notes, state, condition code, repair needed, repairs needed, needs, needs "
        "repair, damage, repair notes, playing condition, problems, problem, issues, condition comments"
    ),
    IntakeField.ACCESSORIES: (
        "accessories, acc, acces, access, includes, included, included accessories, case, mouthpiece, mpc, "
        "mp, mpce, mouthpc, bow, neck, strap, ligature, case condition, with, parts included, case y n, "
        "mouthpiece y n, mpc y n, stand, mallets, lyre"
    ),
    IntakeField.NOTES: (
        "notes, note, comments, comment, remarks, remark, memo, other, misc, miscellaneous, additional notes, info"
    ),
    IntakeField.WHEREABOUTS: (
        "whereabouts, status, availability, in out, current location, disposition, checked out, out"
    ),
    IntakeField.STUDENT: (
        "student, student name, assigned to, assigned, issued to, checked out to, loaned to, lent to, "
        "borrower, player, user, who has it, student id, last name, first name, current student, signed out "
        "to, renter, grade, student grade, parent, guardian, phone"
    ),
    IntakeField.QUANTITY: "quantity, qty, count, how many, on hand",
    IntakeField.VALUE: (
        "value, current value, replacement value, replacement cost, est value, estimated value, insured "
        "value, market value, book value"
    ),
}

_SIGNS: Final = (("#", " number "), ("№", " number "), ("$", " dollars "), ("%", " percent "), ("&", " and "))
_NUMBER_WORDS: Final = re.compile(r"\b(?:no|num|nbr|nr|numbers)\b")


def normal_heading(text: str) -> str:
    """Return the heading as it is compared: lower case, no accents or points, "#" and "no." as "number"."""
    for sign, word in _SIGNS:
        text = text.replace(sign, word)
    plain = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(letter for letter in plain if not unicodedata.combining(letter))
    plain = " ".join(re.sub(r"[^a-z0-9]+", " ", plain).split())
    plain = _NUMBER_WORDS.sub("number", plain)
    return re.sub(r"\bnumber(?: number)+\b", "number", plain)


BY_HEADING: Final[dict[str, IntakeField]] = {
    normal_heading(word): field for field, words in SYNONYMS.items() for word in words.split(", ")
}


def is_heading(text: str) -> bool:
    """Say whether the text is a heading that an inventory list would have."""
    return normal_heading(text) in BY_HEADING or text in OWN_COLUMNS


def own_columns(header: Sequence[str]) -> frozenset[int]:
    """Return where our own list of problem rows added its columns; somebody's own "Problem" column is not among them.

    They stand last and in a row; the mark may have been deleted.
    """
    names = list(header)
    added: set[int] = {index for index, name in enumerate(names) if name == MARK_COLUMN}
    for index in range(len(names) - 1, 0, -1):
        if (names[index - 1], names[index]) == (ROW_COLUMN, PROBLEM_COLUMN):
            added |= {index - 1, index}
            break
    return frozenset(added)
