"""How long the papers take: a batch of labels, and one loan agreement with its signatures."""

from __future__ import annotations

from collections.abc import Iterator

from inventory.pdf import Label, label_sheet
from inventory.rules.labels import SHEETS
from loans.pdf import agreement_pdf
from loans.selectors.agreements import paper_facts
from tests.bench.figures import Figure, middle, p95, times
from tests.bench.sections import Run
from tests.loans.makers import unsaved_agreement

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


def section(run: Run) -> Iterator[Figure]:
    runs, count = run.runs, 30 if run.is_quick else 300
    many = labels(count)
    for code in ("30up", "80up"):
        taken = times(lambda code=code: label_sheet(labels=many, sheet=SHEETS[code]), runs=max(3, runs // 10), warm=1)
        yield Figure(f"{count} labels as PDF, {code}", middle(taken), p95(taken), most_ms=4000.0 * count / 300)
    agreement = unsaved_agreement()
    taken = times(lambda: agreement_pdf(agreement, paper_facts(agreement)), runs=runs)
    yield Figure("one loan agreement as PDF, two signatures", middle(taken), p95(taken))
