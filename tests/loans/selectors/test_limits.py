"""Limits in Spanish: whatever the rules compose of the catalog; what somebody typed stays as it is. No source: our own words."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.utils.translation import override

from inventory.catalog.charts import chart_of
from inventory.catalog.load import catalog
from inventory.catalog.schema import Severity
from inventory.rules.facts import FindingFact
from inventory.rules.verdict import judge
from loans.selectors.limits import limit_in, limits_to_read


def limits_of_everything() -> Iterator[str]:
    """What each fault at each role does to an instrument, moderate and severe, at a first place or one that is not said."""
    known, seen = catalog(), set()
    for kind in known.kinds.values():
        for part in kind.parts:
            for fault in known.roles[part.role].faults:
                if (key := (part.role, fault, bool(part.places), kind.model)) in seen:
                    continue
                seen.add(key)
                places = {"", part.places[0].code} if part.places else {""}
                for severity, place in [
                    (one, place) for one in (Severity.MODERATE, Severity.SEVERE) for place in places
                ]:
                    yield from judge(
                        kind=kind,
                        findings=[FindingFact(part=part.code, fault=fault, severity=severity, place=place)],
                        faults=known.faults,
                        roles=known.roles,
                        chart=chart_of(kind, {}),
                        options={},
                        settings=known.settings,
                    ).limits


def test_every_limit_that_the_catalog_leads_to_is_said_in_spanish():
    limits = set(limits_of_everything())
    assert len(limits) > 500
    assert sorted(line for line in limits if limit_in("es", line) == line) == []
    assert all(limit_in("en", line) == line for line in limits)


@pytest.mark.parametrize(
    ("english", "spanish"),
    [
        (
            "These first-year notes do not sound: C4 to F♯4, B♭4.",
            "No suenan estas notas (primer año): do 4 a fa sostenido 4, si bemol 4.",
        ),
        (
            "These concert notes are out of tune or weak: D4 +30 cents, weak: E4.",
            "Estas notas (banda de concierto) salen desafinadas o débiles: re 4 +30 cents, débil: mi 4.",
        ),
        ("These notes need another fingering: E5 (12).", "Estas notas necesitan otra digitación: mi 5 (12)."),
        (
            "Not working: correcting sharp combinations with the slide of valve 3.",
            "No funciona: corregir con la bomba de la válvula 3 las combinaciones que quedan altas.",
        ),
        (
            "Tuning: stands 30 cents flat and cannot be tuned to A = 440.",
            "Afinación: queda 30 cents bajo y no se puede afinar a la = 440.",
        ),
        (
            "Pistons, valve 2, crack, down (severe): 2 of 9 first-year notes lost (C4), 1 needs another fingering.",
            "Pistones, válvula 2, grieta, abajo (grave): se pierden 2 de 9 notas (primer año): do 4, 1 necesita otra digitación.",
        ),
        (
            "Pistons, valve 2, missing or hard felt: slow or awkward; more damage may follow.",
            "Pistones, válvula 2, fieltro faltante o endurecido: lento o incómodo; puede dañarse más.",
        ),
        ("The low notes are slow to speak.", "The low notes are slow to speak."),
        ("Lost part x, worn felt: slow or awkward.", "Lost part x, worn felt: slow or awkward."),
    ],
)
def test_a_sentence_is_composed_anew_and_what_was_typed_stays(english, spanish):
    assert limit_in("es", english) == spanish


def test_a_reader_reads_kept_limits_in_the_language_of_the_page():
    kept = ["These first-year notes do not sound: C4.", "Typed by hand."]
    assert limits_to_read(kept) == kept
    with override("es-mx"):
        said = limits_to_read(kept)
    assert "do 4" in said[0]
    assert said[1] == "Typed by hand."
