"""How long the papers take: a batch of labels, and one loan agreement with its signatures."""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal

from PIL import Image, ImageDraw

from inventory.pdf import Label, label_sheet
from inventory.rules.labels import SHEETS
from loans.pages import AgreementPaper
from loans.pdf import agreement_pdf
from loans.rules.terms import DEFAULT_TERMS
from tests.bench.figures import Figure, middle, p95, times
from tests.bench.sections import Run

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


def ink() -> bytes:
    picture = Image.new("RGB", (320, 110), "white")
    ImageDraw.Draw(picture).line([(20, 90), (90, 20), (160, 95), (230, 30), (300, 80)], fill="black", width=4)
    out = io.BytesIO()
    picture.save(out, "PNG")
    return out.getvalue()


def an_agreement(at: datetime) -> AgreementPaper:
    return AgreementPaper(
        district="Wide River District", school="Wide River Middle School", student="Student One", grade="6",
        guardian="Guardian One", asset_number="WR-00001", kind="Trumpet", maker="Plain Brass Works", model="M1",
        serial="0000001", verdict="Plays with limits", findings=("Third valve slide: stuck, moderate",) * 4,
        limits=("D and C sharp below the staff cannot be tuned.",), limits_reason="Those notes come next year.",
        accessories=(("Mouthpiece", 1), ("Case", 1), ("Valve oil", 1)), replacement_amount=Decimal(900),
        lent_on=at.date(), due_on=date(at.year + 1, 6, 1), lent_by="The director", terms=DEFAULT_TERMS, terms_version=1,
        signed="screen", signed_at=at, guardian_signer="Guardian One", photos=2, student_signature=ink(),
        guardian_signature=ink(),
    )  # fmt: skip


def section(run: Run) -> Iterator[Figure]:
    at, runs, count = run.now, run.runs, 30 if run.is_quick else 300
    many = labels(count)
    for code in ("30up", "80up"):
        taken = times(lambda code=code: label_sheet(labels=many, sheet=SHEETS[code]), runs=max(3, runs // 10), warm=1)
        yield Figure(f"{count} labels as PDF, {code}", middle(taken), p95(taken), most_ms=4000.0 * count / 300)
    paper = an_agreement(at)
    taken = times(lambda: agreement_pdf(paper), runs=runs)
    yield Figure("one loan agreement as PDF, two signatures", middle(taken), p95(taken))
