"""What each role gets to read: marked words in every page, paper and export, against a list written by hand.

The permission matrix asks who may open a page. This asks what the page then shows: no row of another school, and no
name, contact, donor or value to a role that has no need of it.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from decimal import Decimal

import openpyxl
import pypdfium2
import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from core.access import TABLE, roles_for
from inventory.models import Accessory, Donation, Instrument, Role, Room, School
from loans.models import Agreement, Guardian, Loan, Student
from repairs.models import StockItem
from tests.factories import make_school, make_user
from tests.permission_matrix import all_rows
from tests.permission_matrix.roles import HOLDERS

pytestmark = pytest.mark.page
PAGES = {name: row for name, row in all_rows().items() if row.method == "get" and name != "core:health"}
LETTERS = {Role.DIRECTOR: "D", Role.TECH: "T", Role.AUDITOR: "A", Role.ADMINISTRATOR: "S"}
# Whoever may read least of families, and whoever reads most of them; the others in the drill.
EVERY_DAY = [
    role if role in {Role.DIRECTOR, Role.TECH} else pytest.param(role, marks=pytest.mark.drill) for role in LETTERS
]

NAMED = re.compile("marigold|gundula", re.IGNORECASE)
TITLE = re.compile(r"<title>(.*?)</title>", re.DOTALL)
ADDRESS = re.compile(r'\b(?:href|src|action|formaction|hx-get|hx-post|hx-push-url|data-[a-z-]*)="([^"]*[/?=][^"]*)"')
# Marked word -> the roles that may meet it on any page. P: somebody without a log-in, holding a tag.
MAY_READ = {
    "Marigold Studentname": "DA",
    "Studentname, Marigold": "DA",
    "Gundula Guardianname": "D",
    "555-0147": "D",
    "guardian@family.example": "D",
    "Petronella": "D",
    "CARD-": "D",
    "Dorothea Donorname": "DAS",
    "4,321.98": "DTAS",  # the replacement value weighs in "worth it?", which the tech decides
}
# Where names of the district's schools and people belong. But for the offer, these pages are for its administrator alone.
OF_THE_DISTRICT = {
    "inventory:schools": "the list of schools",
    "inventory:integrations": "of which school a program may read",
    "inventory:people": "who works at which school",
    "inventory:person": "one person's roles, to be given at any school",
    "inventory:settings": "the district's own numbers",
    "desk:offer": "the names of the schools that an instrument can be offered to",
}


def text_of(response) -> str:
    """Everything a reader finds in an answer: page, PDF, spreadsheet or plain text; "" for a picture."""
    body = b"".join(response.streaming_content) if response.streaming else response.content
    kind = response.headers.get("Content-Type", "")
    if kind.startswith("application/pdf"):
        return "\n".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(body))
    if "spreadsheetml" in kind:
        sheets = openpyxl.load_workbook(io.BytesIO(body), read_only=True)
        return "\n".join(str(cell) for sheet in sheets for row in sheet.iter_rows(values_only=True) for cell in row)
    return "" if kind.startswith("image/") else body.decode()


def make_rows(school: School) -> dict[str, tuple[object, ...]]:
    """One row of everything that any page can show, all in this school; the arguments of each page's URL."""
    return {name: row.make(school) for name, row in sorted(all_rows().items()) if name in PAGES or row.own}


def mark(school: School) -> None:
    """Put the marked words wherever such a thing is kept."""
    for instrument in Instrument.objects.filter(school=school):
        Donation.objects.update_or_create(
            instrument=instrument, defaults={"donor_name": "Dorothea Donorname", "received_on": "2026-05-01"}
        )
    Instrument.objects.filter(school=school).update(replacement_amount=Decimal("4321.98"))
    Loan.objects.filter(school=school).update(replacement_amount=Decimal("4321.98"))
    Student.objects.filter(school=school).update(name="Marigold Studentname", sort_name="Studentname, Marigold")
    for student in Student.objects.filter(school=school):
        Student.objects.filter(pk=student.pk).update(number=f"CARD-{student.pk}")
    Guardian.objects.filter(student__school=school).update(
        name="Gundula Guardianname",
        phone="555-0147",
        email="guardian@family.example",
        contact="Care of Aunt Petronella",
    )
    Agreement.objects.filter(loan__school=school).update(guardian_signer="Gundula Guardianname")


def opened(client: Client, rows: dict[str, tuple[object, ...]]) -> Iterator[tuple[str, HttpResponse, str]]:
    """Every page that answers, with its text."""
    for name in sorted(PAGES):
        response = client.get(reverse(name, args=rows.get(name, ())))
        if response.status_code == 200:
            yield name, response, text_of(response)


def stays_behind(response: HttpResponse, text: str) -> list[str]:
    """What a page leaves in histories, logs and lists of downloads, long after the log-out."""
    seen = [str(response.headers)]
    if response.headers.get("Content-Type", "").startswith("text/html"):
        seen += [*TITLE.findall(text), *ADDRESS.findall(text)]
    return seen


def test_every_permission_is_held_by_the_roles_written_here():
    registered = {
        permission: "".join(letter for role, letter in LETTERS.items() if role in roles_for(permission))
        for permission in TABLE
    }
    assert registered == HOLDERS


@pytest.fixture(scope="module")
def district(shared_rows: None) -> tuple[School, dict[str, tuple[object, ...]], set[str]]:
    """Our school with marked rows, the arguments of its pages, and the words by which another school's rows show."""
    ours, theirs = (
        make_school(code="ELM", name="Elm Street Middle"),
        make_school(code="ZZZ", name="Marker Meadow Middle"),
    )
    rows = make_rows(ours)
    make_rows(theirs)
    mark(ours)
    Student.objects.filter(school=theirs).update(name="Marker Student")
    Room.objects.filter(school=theirs).update(name="Marker Room")
    StockItem.objects.filter(bench__school=theirs).update(place="Marker Drawer")
    Accessory.objects.filter(instrument__school=theirs).update(name="Marker Case")
    numbers = Instrument.objects.filter(school=theirs).values_list("asset_number", flat=True)
    return ours, rows, {theirs.name, "Marker Student", "Marker Room", "Marker Drawer", "Marker Case", *numbers}


@pytest.mark.django_db
@pytest.mark.parametrize("role", [*EVERY_DAY, None], ids=lambda role: role or "public")
def test_a_role_reads_what_it_needs_and_nothing_of_another_school(role, client, district, caplog):
    school, rows, foreign = district
    letter = LETTERS[role] if role else "P"
    if role is not None:
        client.force_login(make_user(role, school=school))
    pages = list(opened(client, rows))
    assert len(pages) > (2 if role is None else 20)
    wrong = [
        f"{name} shows {words}"
        for name, _, text in pages
        for words, roles in MAY_READ.items()
        if words in text and letter not in roles
    ]
    wrong += [
        f"{name} shows {words} of another school"
        for name, _, text in pages
        if name not in OF_THE_DISTRICT
        for words in foreign
        if words in text
    ]
    wrong += [
        f"{name}: {words}" for name, page, text in pages for words in stays_behind(page, text) if NAMED.search(words)
    ]
    assert wrong == []
    assert not NAMED.search(caplog.text)
    if role == Role.DIRECTOR:  # otherwise nothing would be found because there was nothing to find
        assert [words for words in MAY_READ if all(words not in text for _, _, text in pages)] == []
        assert sum(TITLE.search(text) is not None for _, _, text in pages) > 20


def test_only_pages_about_the_district_are_excused():
    assert {PAGES[name].permission for name in OF_THE_DISTRICT} <= {
        "inventory.manage_settings",
        "inventory.manage_integrations",
        "inventory.manage_people",
        "inventory.transfer_instrument",
    }


FILES = {"loans:export-loans": "csv", "loans:export-students": "csv", "loans:student-copy": "pdf"}


@pytest.mark.django_db
@pytest.mark.parametrize("role", EVERY_DAY)
def test_what_is_found_or_taken_along_says_no_more_than_the_pages(role, client, district, caplog):
    """The search and the files are posted: what they answer is held to the same list."""
    school, rows, foreign = district
    client.force_login(make_user(role, school=school))
    answers = [
        (name, client.post(reverse(name, args=rows.get(name, ())), {"form": form})) for name, form in FILES.items()
    ]
    search = reverse("desk:search")
    typed = ("marigold", "gundula", "marker", "trumpet")
    answers += [(words, client.get(client.post(search, {"q": words}).url)) for words in typed]
    read = [(name, answer, text_of(answer)) for name, answer in answers if answer.status_code == 200]
    assert len(read) >= len(typed)
    wrong = [
        f"{name} shows {words}"
        for name, _, text in read
        for words, roles in MAY_READ.items()
        if words in text and LETTERS[role] not in roles
    ]
    wrong += [f"{name} shows {words} of another school" for name, _, text in read for words in foreign if words in text]
    wrong += [f"{name} is sent with {answer.headers}" for name, answer, _ in read if NAMED.search(str(answer.headers))]
    assert wrong == []
    assert not NAMED.search(caplog.text)
    if role == Role.DIRECTOR:
        assert all(any("Studentname" in text for name, _, text in read if name == one) for one in (*FILES, "marigold"))
