"""How long the papers take: labels, an agreement with its signatures, a stack to sign, and its way back from the copier."""

from __future__ import annotations

import io
import random
from collections.abc import Iterator
from datetime import UTC, datetime
from unittest.mock import patch

import pypdfium2

from core.models import User
from core.pdf_pages import parts_of
from inventory.pdf import Label, label_sheet
from inventory.rules.labels import SHEETS
from loans.models import AgreementTerms, PaperToSign, Student
from loans.pdf import agreement_pdf
from loans.pdf.to_sign import papers_to_sign_pdf
from loans.rules.codes import code_in, new_code
from loans.selectors.agreements import default_terms, paper_facts
from tests.bench.figures import Figure, middle, p95, times
from tests.bench.sections import Run
from tests.loans.makers import FACTS, unsaved_agreement

TOKEN = "23456789ABCDEFGH"
ADDRESS = "HTTPS://HORNS.WIDE-RIVER.EXAMPLE/T/"


def labels(count: int) -> list[Label]:
    return [
        Label(
            url=f"{ADDRESS}{TOKEN[number % 16 :]}{TOKEN[: number % 16]}",
            asset_number=f"WR-{number:05d}",
            kind="Bass clarinet",
            school="Wide River Middle School",
        )
        for number in range(count)
    ]


def papers_to_sign(count: int) -> list[PaperToSign]:
    """Papers that name an instrument, in no database."""
    draw, printed_at = random.Random(7), datetime(2026, 9, 14, tzinfo=UTC)
    terms = AgreementTerms(text=default_terms(), version=1, written_at=printed_at)
    return [
        PaperToSign(
            code=new_code(draw.choice), student=Student(name=f"Robin Reed {number}", grade="6"), terms=terms, facts=FACTS,
            actor=User(name="Dana Director"), printed_at=printed_at,
        )
        for number in range(count)
    ]  # fmt: skip


def as_scanned(pdf: bytes) -> bytes:
    """What a copier makes of a stack: each page a picture of 200 dpi, without any text."""
    pages = []
    with pypdfium2.PdfDocument(pdf) as document:
        pages += [page.render(scale=200 / 72, grayscale=True).to_pil() for page in document]
    out = io.BytesIO()
    pages[0].save(out, "PDF", save_all=True, append_images=pages[1:], resolution=200)
    return out.getvalue()


def stacks(run: Run) -> Iterator[Figure]:
    few = max(2, run.runs // 20)
    many, whole_class = papers_to_sign(20 if run.is_quick else 200), papers_to_sign(4 if run.is_quick else 30)
    with patch.object(Student, "guardian", None):  # they are in no database
        taken = times(lambda: papers_to_sign_pdf(many, home="https://horns.example"), runs=few, warm=0)
        yield Figure(f"{len(many)} agreements to sign as one PDF", middle(taken), p95(taken))
        taken = times(lambda: papers_to_sign_pdf(whole_class, home="https://horns.example"), runs=few, warm=0)
        yield Figure(f"a class of {len(whole_class)}: agreements to sign as one PDF", middle(taken), p95(taken))
        scan = as_scanned(papers_to_sign_pdf(whole_class, home="https://horns.example"))
    taken = times(lambda: parts_of(scan, code_in=code_in), runs=few, warm=0)
    found = [part.codes for part in parts_of(scan, code_in=code_in)]
    if found != [{paper.code} for paper in whole_class]:
        raise AssertionError("a paper was taken for another, or lost")
    yield Figure(
        f"a class of {len(whole_class)}: the copier's PDF parted by its codes ({len(scan) / 1e6:.0f} MB)",
        middle(taken),
        p95(taken),
    )


def section(run: Run) -> Iterator[Figure]:
    runs, count = run.runs, 30 if run.is_quick else 300
    many = labels(count)
    for code in ("30up", "80up"):
        taken = times(lambda code=code: label_sheet(labels=many, sheet=SHEETS[code]), runs=max(3, runs // 10), warm=1)
        yield Figure(f"{count} labels as PDF, {code}", middle(taken), p95(taken), most_ms=4000.0 * count / 300)
    agreement = unsaved_agreement()
    taken = times(lambda: agreement_pdf(agreement, paper_facts(agreement)), runs=runs)
    yield Figure("one loan agreement as PDF, two signatures", middle(taken), p95(taken))
    yield from stacks(run)
