"""What the stored columns of an instrument should hold, computed from the facts, and what they mean today."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any, NamedTuple

from django.conf import settings
from django.db.models import Count, Max, OuterRef, QuerySet, Subquery, prefetch_related_objects
from django.utils import timezone
from django.utils.translation import gettext, override

from inventory.catalog.load import catalog
from inventory.catalog.load.language import is_stored_language, stored_language
from inventory.catalog.schema import MISSING_PART
from inventory.models import (
    Custody,
    Inspection,
    Instrument,
    InstrumentQuerySet,
    PlayTest,
    ProblemReport,
    Purpose,
    SampleItem,
    Sighting,
    Whereabouts,
)
from inventory.rules.facts import FindingFact
from inventory.rules.notes import note_words
from inventory.rules.readiness import (
    Readiness,
    ReadinessAnswer,
    ReadinessFacts,
    Reason,
    aged_reason,
    ages_out_on,
    readiness,
)
from inventory.rules.standing import Standing
from inventory.rules.verdict import EffectGroup, Verdict
from inventory.selectors.standing import slides_played, standing_facts, standing_of

CHUNK = 500  # instruments read at a time
# Whoever brought it to one of these places had it in hand.
IN_HAND = (Whereabouts.IN_STORE, Whereabouts.WITH_STUDENT, Whereabouts.ON_BENCH, Whereabouts.AT_SHOP)


@dataclass(frozen=True, slots=True)
class State:
    """The standing of an instrument with everything else that its readiness depends on."""

    standing: Standing
    verdict: str
    limits: tuple[str, ...]
    answer: ReadinessAnswer
    ready_until: date | None
    inspected_at: datetime | None
    seen_at: datetime | None = None

    def columns(self) -> dict[str, Any]:
        return {
            "verdict": self.verdict,
            "limits": list(self.limits),
            "readiness": self.answer.readiness.value,
            "readiness_reasons": [
                {"code": reason.code, "text": reason.text, "clears": reason.clears.value, "stays_in": reason.stays_in}
                for reason in self.answer.reasons
            ],
            "ready_until": self.ready_until,
            "inspected_at": self.inspected_at,
            "seen_at": self.seen_at,
        }


class StateWords(NamedTuple):
    """Why an instrument stays in and what limits it, in the reader's words."""

    reasons: Sequence[dict[str, Any]]
    limits: Sequence[str]


class _Related(NamedTuple):
    """Facts of an instrument from other tables."""

    inspected_at: datetime | None
    play_test: PlayTest | None
    open_reports: int
    back_from_shop_at: datetime | None
    seen_at: datetime | None


def state_of(instrument: Instrument) -> State:
    """Compute verdict and readiness from the rows that hold the facts. Three or four queries."""
    return states_of([instrument])[instrument.pk]


def states_of(instruments: Iterable[Instrument]) -> dict[int, State]:
    """The same for many, by primary key. Three or four queries for all of them, one more as standings_of says.

    Reasons are in the language of the installation, whoever asks: they are stored, and compared with what is stored.
    """
    with stored_language():
        return _states(list(instruments))


def _states(rows: list[Instrument]) -> dict[int, State]:
    """The same in the reader's words."""
    facts = standing_facts(row.pk for row in rows)
    slides, seen = slides_played(facts), _seen(rows)
    prefetch_related_objects(rows, "accessories")
    states = {}
    for row in rows:
        is_inspected = seen[row.pk].inspected_at is not None
        standing = standing_of(row, findings=facts[row.pk], is_inspected=is_inspected, slides=slides)
        test, limits = seen[row.pk].play_test, list(standing.judgement.limits)
        if limits and test is not None and test.result == PlayTest.Result.LIMITS:
            limits = _limits_in_all(row, facts[row.pk], is_inspected=is_inspected, slides=slides)
        states[row.pk] = _state(row, standing, seen[row.pk], known_limits=limits)
    return states


def _limits_in_all(
    row: Instrument, facts: Sequence[FindingFact], *, is_inspected: bool, slides: Mapping[int, float]
) -> list[str]:
    """The limits of its findings in every language: those that a tester may have been shown and kept."""
    limits: list[str] = []
    for language, _name in settings.LANGUAGES:
        with override(language):
            standing = standing_of(row, findings=facts, is_inspected=is_inspected, slides=slides)
            limits += standing.judgement.limits
    return limits


def _related_rows() -> QuerySet[Instrument, tuple[Any, ...]]:
    mine = OuterRef("pk")
    inspections = Inspection.objects.finished().filter(instrument=mine, under_kind="").exclude(purpose=Purpose.PART)
    inspections = inspections.order_by()
    reports = ProblemReport.objects.confirmed().filter(instrument=mine).order_by()
    shops = Custody.objects.filter(
        instrument=mine, whereabouts=Whereabouts.AT_SHOP, until__isnull=False, undone_at=None
    ).order_by()
    in_hand = Custody.objects.filter(
        instrument=mine, whereabouts__in=IN_HAND, undone_at=None, since__gt=OuterRef("registered_at")
    ).order_by()  # the first span is of a record, perhaps of a list: nobody need have seen it
    counted = Sighting.objects.standing().filter(instrument=mine).order_by()
    examined = (
        SampleItem.objects.examined().exclude(result=SampleItem.Result.NOT_FOUND).filter(instrument=mine).order_by()
    )
    return Instrument.objects.order_by().values_list(
        "pk",
        Subquery(inspections.values("instrument").annotate(at=Max("finished_at")).values("at")),
        Subquery(PlayTest.objects.filter(instrument=mine).values("pk")[:1]),
        Subquery(reports.values("instrument").annotate(n=Count("pk")).values("n")),
        Subquery(shops.values("instrument").annotate(at=Max("until")).values("at")),
        Subquery(in_hand.values("instrument").annotate(at=Max("since")).values("at")),
        Subquery(counted.values("instrument").annotate(at=Max("seen_at")).values("at")),
        Subquery(examined.values("instrument").annotate(at=Max("examined_at")).values("at")),
    )


RELATED = _related_rows()  # built once: every act asks, and building it takes longer than its answer


def _seen(instruments: list[Instrument]) -> dict[int, _Related]:
    """Two queries at most."""
    rows = list(RELATED.filter(pk__in=[row.pk for row in instruments]))
    tests = PlayTest.objects.in_bulk([row[2] for row in rows if row[2] is not None])
    found = {}
    for pk, inspected_at, key, reports, back_at, in_hand_at, *looked_at in rows:
        test = tests.get(key) if key else None
        seen = [at for at in (inspected_at, in_hand_at, *looked_at, test and test.played_at) if at]
        found[pk] = _Related(inspected_at, test, reports or 0, back_at, max(seen, default=None))
    return found


def _added_limits(text: str, limits: Iterable[str]) -> list[str]:
    """What a play test adds to the limits that the findings say anyway: the tester may have kept those."""
    for limit in limits:
        text = text.replace(limit, "")
    return [text.strip()] if text.strip() else []


def _state(instrument: Instrument, standing: Standing, seen: _Related, *, known_limits: Iterable[str]) -> State:
    judgement, latest = standing.judgement, seen.play_test
    verdict, limits, failed = judgement.verdict, list(judgement.limits), ""
    is_trusted = verdict == Verdict.NOT_INSPECTED and instrument.trusted_until is not None
    if latest is not None and (is_trusted or verdict != Verdict.NOT_INSPECTED):
        if latest.result == PlayTest.Result.FAIL:
            failed = note_words(latest.failed_notes) or latest.note[:120] or gettext("see the test")
            verdict = verdict if is_trusted else Verdict.DOES_NOT_PLAY
        elif latest.result == PlayTest.Result.LIMITS:
            limits += _added_limits(latest.limits_text, known_limits)
            verdict = Verdict.PLAYS_WITH_LIMITS if verdict == Verdict.PLAYS else verdict
    # A missing part that stops it is said as a finding; to count it among the accessories too would say it twice.
    stopping = judgement.group(EffectGroup.STOPS)
    gone = {one.finding.part for one in stopping if one.finding.fault == MISSING_PART}
    short = [row for row in instrument.accessories.all() if row.is_short and row.code not in gone]
    back_at = seen.back_from_shop_at
    answer = readiness(
        ReadinessFacts(
            verdict=verdict,
            whereabouts=instrument.whereabouts,
            stopping=[effect.sentence for effect in stopping] or ([] if is_trusted else list(judgement.reasons)),
            limits=limits,
            never_issue=[
                one.kept_in for one in judgement.effects if one.kept_in and one.group is not EffectGroup.STOPS
            ],
            open_reports=seen.open_reports,
            missing_essentials=[str(row) for row in short if row.is_essential],
            missing_extras=[str(row) for row in short if not row.is_essential],
            owed=instrument.owed,
            failed_play_test=failed,
            is_parts_instrument=instrument.is_parts_instrument,
            is_retired=instrument.is_retired,
            is_return_unseen=instrument.is_return_inspection_due,
            is_back_from_shop=back_at is not None and (latest is None or latest.played_at < back_at),
            trusted_until=instrument.trusted_until,
            is_kind_known=standing.is_known,
        )
    )
    inspected_on = timezone.localdate(seen.inspected_at) if seen.inspected_at else None
    ready_until = ages_out_on(inspected_on=inspected_on, valid_days=int(catalog().settings["inspection_valid_days"]))
    return State(
        standing=standing,
        verdict=verdict.value,
        limits=tuple(limits),
        answer=answer,
        ready_until=instrument.trusted_until if is_trusted else ready_until,
        inspected_at=seen.inspected_at,
        seen_at=seen.seen_at,
    )


def stored_differences(rows: InstrumentQuerySet) -> Iterator[tuple[Instrument, dict[str, Any]]]:
    """Every instrument of ``rows``, by key, with the columns that do not match the facts. Five queries for 500."""
    last = 0
    while chunk := list(rows.filter(pk__gt=last).order_by("pk")[:CHUNK]):
        states = states_of(chunk)
        for row in chunk:
            columns = states[row.pk].columns()
            yield row, {name: value for name, value in columns.items() if getattr(row, name) != value}
        last = chunk[-1].pk


def state_words_of(instruments: Iterable[Instrument]) -> dict[int, StateWords]:
    """The stored reasons and limits of each, by primary key, in the reader's words.

    Stored sentences are in one language. For a reader of another they are made again from the facts, with five queries
    for all of them; where the facts no longer give the same reasons, what is stored is shown as it is.
    """
    rows = list(instruments)
    # A list leaves the limits out.
    stored = {row.pk: StateWords(row.readiness_reasons, row.__dict__.get("limits", ())) for row in rows}
    if is_stored_language() or not rows:
        return stored
    return {pk: _in_readers_words(stored[pk], state) for pk, state in _states(_whole(rows)).items()}


def _whole(rows: Sequence[Instrument]) -> list[Instrument]:
    """Rows of a list, read again where it left columns out."""
    if any(row.get_deferred_fields() for row in rows):
        return list(Instrument.objects.filter(pk__in=[row.pk for row in rows]))
    return list(rows)


def _in_readers_words(stored: StateWords, state: State) -> StateWords:
    columns = state.columns()
    reasons, limits = columns["readiness_reasons"], columns["limits"]
    same = [one["code"] for one in reasons] == [one["code"] for one in stored.reasons]
    return StateWords(
        reasons if same else [one | {"text": gettext(one["text"])} for one in stored.reasons],
        limits if len(limits) == len(stored.limits) else stored.limits,
    )


def reasons_today(instrument: Instrument, *, today: date, words: StateWords | None = None) -> list[dict[str, Any]]:
    """The stored reasons in the reader's words, and the one that depends on today's date.

    ``words`` is what ``state_words_of`` gave, where it was asked for many.
    """
    aged = _aged(instrument, today=today)
    words = words or state_words_of([instrument])[instrument.pk]
    return [*([asdict(aged)] if aged else ()), *words.reasons]


def keeps_in(instrument: Instrument, *, today: date) -> set[str]:
    """The codes of what keeps it in today."""
    aged = _aged(instrument, today=today)
    stored = {one["code"] for one in instrument.readiness_reasons if one["stays_in"]}
    return stored | ({aged.code} if aged else set())


def _aged(instrument: Instrument, *, today: date) -> Reason | None:
    is_inspected = instrument.verdict != Verdict.NOT_INSPECTED
    return aged_reason(ready_until=instrument.ready_until, today=today, is_inspected=is_inspected)


def may_go_out(instrument: Instrument, *, today: date) -> bool:
    """Whether it may go out today, with limits or without."""
    return instrument.readiness != Readiness.STAYS_IN and (
        instrument.ready_until is None or today <= instrument.ready_until
    )
