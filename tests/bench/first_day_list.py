"""A list of 110 instruments as a school has it, with what such lists have wrong with them; made up from nothing."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from datetime import date, timedelta
from itertools import count

HEADER = (
    "Tag #", "Instrument", "Brand / Model", "Serial No.", "Purch. Date", "Price", "Condition", "Case? (Y/N)",
    "Assigned To", "Grade", "Date Out", "Notes",
)  # fmt: skip
# (what the list calls it, brand and model, how many)
FLEET = (
    ("Flute", "Hillside / F-100", 18), ("Bb Clarinet", "Hillside - C-20", 20), ("Sax", "Valley / AS2", 10),
    ("TRUMPET", "Plain Brass Works / T-1", 20), ("Horn", "Plain Brass Works / H-4", 6), ("tbn", "Valley/B-9", 12),
    ("Baritone", "Valley / E-3", 6), ("Tuba", "Hillside / U-5", 4), ("Snare kit", "Timber & Sons / K2", 8),
    ("Bass clarinet", "Hillside - BC-7", 4), ("Oboe", "Reedwell / O-1", 2),
)  # fmt: skip
FIRST = (
    "Ada", "Ben", "Cleo", "Dev", "Emil", "Fay", "Gus", "Hana", "Ivo", "José", "Kim", "Lena", "Milo", "Nia", "Oto",
)  # fmt: skip
LAST = ("Alder", "Birch", "Cedar", "Dogwood", "Elm", "Fir", "Ginkgo", "Hazel")
REMARKS = {4: "2nd valve sticks", 17: "G# key bent", 33: "needs pads", 48: "dent in bell", 71: "slide rough"}
FAULTS = {  # row -> (column, what stands there)
    9: ("Instrument", "Clarinett bass"), 25: ("Price", "#REF!"), 52: ("Instrument", "Trumpit"),
    77: ("Purch. Date", "sometime"), 90: ("Serial No.", "4.1E+11"),
}  # fmt: skip
IN_ROOM = 35  # every instrument after so many of each hundred is in the room


def student(number: int) -> str:
    """Return a name: given first, family first, or in capitals, as whoever kept the list liked."""
    first, last = FIRST[number % len(FIRST)], LAST[number // len(FIRST) % len(LAST)]
    return (f"{first} {last}", f"{last}, {first}", f"{first} {last}".upper())[number % 3]


def rows() -> Iterator[dict[str, str]]:
    numbers = count(1)
    for word, model, many in FLEET:
        for _one in range(many):
            number = next(numbers)
            bought = date(2009, 1, 5) + timedelta(days=number * 37)
            is_out = number % 100 > IN_ROOM
            row = {
                "Tag #": f"{number:04d}",
                "Instrument": word,
                "Brand / Model": model,
                "Serial No.": str(100_000 + number * 7),
                "Purch. Date": f"{bought.month}/{bought.day}/{bought.year}",
                "Price": f"${400 + number * 3}.00",
                "Condition": REMARKS.get(number, ""),
                "Case? (Y/N)": "N" if number in {12, 60} else "Y",
                "Assigned To": student(number) if is_out else "band room" if number == 1 else "",
                "Grade": str(6 + number % 3) if is_out else "",
                "Date Out": "9/14/2026" if is_out else "",
                "Notes": "",
            }
            if number in FAULTS:
                column, text = FAULTS[number]
                row[column] = text
            yield row


def first_day_list() -> bytes:
    """Return the list as a CSV file, with its sum and a count below."""
    out = io.StringIO()
    sheet = csv.DictWriter(out, HEADER)
    sheet.writeheader()
    sheet.writerows(rows())
    sheet.writerow({"Tag #": "Total", "Price": "#REF!"})
    sheet.writerow({"Instrument": "Count", "Serial No.": "110"})
    return out.getvalue().encode()
