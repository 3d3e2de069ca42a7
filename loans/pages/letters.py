"""Letters to families, the same on paper and in mail, in the language of whoever gets them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.dateparse import parse_date

from inventory.catalog.load import catalog
from inventory.catalog.load.language import stored_language
from loans.models import Guardian, Loan, Notice
from loans.rules.terms import ENGLISH
from loans.selectors.families import day_in, thing_in, words_in
from loans.selectors.notices import person_at


@dataclass(frozen=True, slots=True)
class Letter:
    """One letter: who writes, to whom, and the text, all as it is read."""

    language: str
    sender: tuple[str, ...]  # school, address, phone
    to: tuple[str, ...]  # as it stands in the window of the envelope
    day: str
    subject: str
    greeting: str
    paragraphs: tuple[str, ...]
    person: str

    @property
    def text(self) -> str:
        """The letter as plain text, for mail."""
        signed = "\n".join(filter(None, (self.person, *self.sender)))
        return "\n\n".join((self.greeting, *self.paragraphs, signed)) + "\n"


@stored_language()
def letter_about(
    loan: Loan, *, guardian: Guardian | None, subject: str, paragraphs: Sequence[str], today: date, **facts: Any
) -> Letter:
    """Return a letter to the family about a loan. ``subject`` and ``paragraphs`` are keys of fixtures/families.yaml.

    Each is filled in with the student, the school, kind and number of the instrument, what came with it, and ``facts``.
    """
    student, school = loan.student, loan.school
    language = guardian.language if guardian else ENGLISH
    words = words_in(language)
    known = {
        "student": student.name,
        "grade": student.grade,
        "school": school.name,
        "kind": thing_in(language, loan.instrument.kind.name),
        "number": loan.instrument.asset_number,
        "things": ", ".join(f"{row['count']} × {thing_in(language, row['name'])}" for row in loan.accessories),
    }
    known |= {key: day_in(language, value) if isinstance(value, date) else value for key, value in facts.items()}
    name = guardian.name if guardian else "" if student.has_guardians else student.name
    greeting = words["dear"].format(name=name) if name else words["dear_family"].format(**known)
    whose = words["student_line_grade" if student.grade else "student_line"].format(**known)
    person = person_at(school)
    address = guardian.address.splitlines() if guardian else []
    below = address or ([whose] if student.has_guardians else [])  # without an address, the student takes it home
    return Letter(
        language=language,
        sender=tuple(filter(None, (school.name, school.address, school.phone))),
        to=(name or greeting.rstrip(",:"), *below),
        day=day_in(language, today),
        subject=words[subject].format(**known),
        greeting=greeting,
        paragraphs=tuple(words[key].format(**known) for key in paragraphs if key != "came_with" or known["things"]),
        person=person.name if person else "",
    )


@stored_language()
def letter_of(notice: Notice, *, today: date) -> Letter:
    """Return what a notice says."""
    facts: dict[str, Any] = {"day": notice.about_on}
    if notice.sort == Notice.Sort.REPORT:
        paragraphs, facts = _about_report(notice)
    else:
        more = () if notice.sort == Notice.Sort.SIGNATURE else ("came_with",)
        paragraphs = (f"notice_{notice.sort}", *more, f"notice_{notice.sort}_more")
    return letter_about(
        notice.loan,
        guardian=notice.guardian,
        subject=f"notice_{notice.sort}_subject",
        paragraphs=paragraphs,
        today=today,
        **facts,
    )


def _about_report(notice: Notice) -> tuple[tuple[str, ...], dict[str, Any]]:
    """Return the paragraphs for a report, and what they are filled in with."""
    facts, language = notice.facts, notice.guardian.language if notice.guardian else ENGLISH
    bring_on = parse_date(facts.get("bring_on") or "")
    paragraphs = (
        "notice_report",
        "notice_report_bring_on" if bring_on else "notice_report_bring",
        "notice_report_more",
    )
    if not facts.get("spare"):
        return paragraphs, {"day": bring_on}
    spare = {"spare": facts["spare"], "spare_kind": thing_in(language, catalog().kind(facts["spare_kind"]).name)}
    return (*paragraphs, "notice_report_spare"), {"day": bring_on, **spare}
