"""The register: which instruments fit what somebody looks for, and sums over them."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any

from django.db.models import Count, Exists, OuterRef, Q, QuerySet, TextField
from django.db.models.functions import Cast
from django.utils import timezone

from core.days import add_months
from inventory.catalog.load import catalog
from inventory.catalog.names import slug
from inventory.catalog.schema import Kind
from inventory.models import (
    District,
    Instrument,
    InstrumentQuerySet,
    Readiness,
    Room,
    School,
    Tag,
    Whereabouts,
    fresh_on,
    in_use_on,
    schools_of,
)
from inventory.rules.numbers import letters_and_digits, number_key
from inventory.rules.readiness import AT_HAND
from inventory.selectors.fleet import State, count_of, fleets_of, readiness_on, states_of
from inventory.selectors.holders import holders

MOST_WORDS = 6
MOST_ALIKE = 200  # numbers with the same letters in front and digits behind that are compared with the one typed
MOST_FOUND = 1000  # rows that a search by words lists and counts
# So many are offered while somebody adds an instrument.
KINDS_TYPED_AHEAD = 8
KINDS_IN_USE = 6
MAKERS_KNOWN = 40
MAKERS_FROM = 1000  # instruments, the newest
READY = "ready"  # going out today, with limits or without
USES = {"in_use": in_use_on(), "parts": Q(is_parts_instrument=True), "retired": Q(is_retired=True)}

TAGGED, UNTAGGED = "yes", "no"
NUMBERED, UNNUMBERED = "yes", "no"
NEVER = "never"  # nobody has seen it since it was registered
COUNTED_BY = (
    "room",
    "use",
    "reason",
    "funding",
    "tag",
    "serial",
    "unseen",
    "grade",
)  # the sums of schools know none of these
AGED = "aged"  # the one reason that no row holds: the calendar brings it

HELD = ~Q(whereabouts=Whereabouts.GONE)

LIST_COLUMNS = (
    "asset_number", "kind_code", "maker", "model", "serial", "school__name", "room__name", "place", "whereabouts", "verdict",
    "readiness", "readiness_reasons", "ready_until", "options", "seen_at",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Wanted:
    """What somebody looks for; empty means all of what the district still holds."""

    q: str = ""
    kind: str = ""
    school: int | None = None
    room: int | None = None
    whereabouts: str = ""
    verdict: str = ""
    readiness: str = ""
    use: str = ""
    reason: str = ""  # why it stays in
    funding: str = ""
    tag: str = ""  # TAGGED or UNTAGGED
    serial: str = ""  # NUMBERED or UNNUMBERED
    unseen: str = ""  # for so many months at least, or NEVER
    grade: str = ""  # of whoever has it


def kinds_named(word: str) -> list[str]:
    """The codes of kinds that somebody may mean by a word: it begins a word of the name or of one the trade uses."""
    start = slug(word)
    if not start:
        return []
    return [kind.code for kind in catalog().kinds.values() if any(begins(name, start) for name in words_for(kind))]


def words_for(kind: Kind) -> tuple[str, ...]:
    return (kind.name, kind.code, *kind.aliases)


def begins(name: str, start: str) -> bool:
    text = f"_{slug(name)}"
    return f"_{start}" in text or f"_{start.removesuffix('s')}" in text


def kinds_like(text: str) -> list[Kind]:
    """Kinds for a type-ahead, the likeliest first: the words typed begin the name, then one of the trade's words."""
    start = slug(text)
    if not start:
        return []

    def rank(kind: Kind) -> tuple[int, str]:
        names = [slug(name) for name in words_for(kind)]
        if start in names:
            return 0, kind.name
        if names[0].startswith(start):
            return 1, kind.name
        return (2 if any(name.startswith(start) for name in names) else 3), kind.name

    codes = set(catalog().kinds)
    for word in start.split("_"):
        codes &= set(kinds_named(word))
    return sorted((catalog().kinds[code] for code in codes), key=rank)[:KINDS_TYPED_AHEAD]


def lost_kind(code: str) -> Kind | None:
    """The kind of instruments that have outlived its entry in the catalog; None where the district has none of it."""
    is_unknown = bool(code) and code == slug(code) and code not in catalog().kinds
    is_lost = is_unknown and Instrument.objects.filter(kind_code=code).exists()
    return catalog().kind(code) if is_lost else None


def kinds_in_use(schools: QuerySet[School], *, today: date) -> list[Kind]:
    """The kinds these schools own most of; before they own any, those a beginning band needs first."""
    counted: Counter[str] = Counter()
    for fleet in fleets_of(schools, today=today).values():
        counted.update({code: states.total() for code, states in fleet.kinds.items()})
    codes = sorted(counted, key=lambda code: (-counted[code], code))[:KINDS_IN_USE]
    usual = ["trumpet", "clarinet_bb", "flute", "sax_alto", "trombone", "snare_kit"]
    trade = catalog().kinds
    return [trade[code] for code in [*codes, *(code for code in usual if code not in codes)] if code in trade][
        :KINDS_IN_USE
    ]


def proposed_number(district: District | None) -> str:
    """The number the next instrument would get; somebody quicker may take it first."""
    return "" if district is None else district.asset_number(district.next_asset_number)


def numbered_like(rows: InstrumentQuerySet, text: str) -> list[Instrument]:
    """Those whose number is this one, written without zeros in front and signs between; letters and digits only."""
    letters, digits = letters_and_digits(text)
    if not letters:
        return []
    near = rows.filter(asset_number__istartswith=letters, asset_number__endswith=digits).order_by("asset_number")
    return [row for row in near[:MOST_ALIKE] if number_key(row.asset_number) == letters + digits]


def narrowed(rows: InstrumentQuerySet, wanted: Wanted) -> InstrumentQuerySet:
    """Rows by words, use, kind, school and room: the ground on which the sums stand."""
    words = wanted.q.split()[:MOST_WORDS]
    for word, is_place in zip(words, _places(rows, words), strict=True):
        # Known beforehand, a word that names no room or kind is not held against those of every instrument.
        rooms = list(Room.objects.filter(name__icontains=word).order_by().values_list("pk", flat=True))
        numbered = [row.pk for row in numbered_like(rows.only("asset_number"), word)]
        rows = rows.filter(
            Q(asset_number__icontains=word)
            | Q(pk__in=numbered)
            | Q(second_number__icontains=word)
            | Q(serial__icontains=word)
            | Q(maker__icontains=word)
            | Q(model__icontains=word)
            | Q(room__in=rooms)
            | Q(kind_code__in=kinds_named(word))
            | is_place
        )
    if wanted.use:
        rows = rows.filter(USES[wanted.use])
    if wanted.funding:
        rows = rows.filter(Q(funding_source__icontains=wanted.funding) | Q(award_number__icontains=wanted.funding))
    if wanted.tag:
        tag = Exists(Tag.objects.live().filter(instrument=OuterRef("pk"), accessory=None))
        rows = rows.filter(tag if wanted.tag == TAGGED else ~tag)
    if wanted.serial:
        rows = rows.exclude(serial="") if wanted.serial == NUMBERED else rows.filter(serial="")
    return rows.of(school=wanted.school, room=wanted.room, kind_code=wanted.kind)


def _places(rows: InstrumentQuerySet, words: Sequence[str]) -> list[Q]:
    """Of each word what is true of a place in a room that it names; a number names one with the word before it alone."""
    found = [Q(pk__in=()) if word.isdigit() else Q(place__icontains=word) for word in words]
    for at, number in enumerate(words[1:], start=1):
        if number.isdigit() and not words[at - 1].isdigit():
            found[at - 1] = found[at] = Q(pk__in=kept_at(rows, f"{words[at - 1]} {number}"))
    return found


def kept_at(rows: InstrumentQuerySet, text: str) -> list[int]:
    """The keys of what is kept where the words say, in their order and whole: "shelf 3" is not shelf 31."""
    words, gap = re.findall(r"\w+", text)[:MOST_WORDS], r"\W+"
    if not words:
        return []
    near = rows.present().exclude(place="")
    for word in words:
        near = near.filter(place__icontains=word)
    whole = re.compile(rf"\b{gap.join(words)}\b", re.IGNORECASE)
    return [pk for pk, place in near.order_by().values_list("pk", "place")[:MOST_FOUND] if whole.search(place)]


def kept_in_by(rows: InstrumentQuerySet, reason: str, *, today: date) -> InstrumentQuerySet:
    """Those at hand that this reason keeps in, be it the only one or not."""
    rows = rows.filter(whereabouts__in=AT_HAND)
    if reason == AGED:
        return rows.filter(ready_until__lt=today)
    return rows.alias(reasons=Cast("readiness_reasons", TextField())).filter(reasons__contains=f'"code": "{reason}"')


def unseen_for(months: str, *, today: date) -> Q:
    """Nobody has seen it for so many months; what nobody ever saw is among them."""
    never = Q(seen_at__isnull=True)
    if months == NEVER:
        return never
    since = timezone.make_aware(datetime.combine(add_months(today, -int(months)), time.min))
    return never | Q(seen_at__lt=since)


def ground_for(user: Any, wanted: Wanted, *, today: date) -> InstrumentQuerySet:
    """What the user may see that fits, in whatever state. No query."""
    rows = narrowed(Instrument.objects.visible_to(user), wanted)
    if wanted.grade:
        rows = rows.filter(holders().in_grade(user, wanted.grade))
    if wanted.unseen:
        rows = rows.filter(unseen_for(wanted.unseen, today=today))
    return kept_in_by(rows, wanted.reason, today=today) if wanted.reason else rows


def state_wanted(wanted: Wanted, *, today: date) -> Q:
    """Whereabouts, verdict and what may go out today, as a condition."""
    state = Q(whereabouts=wanted.whereabouts) if wanted.whereabouts else HELD
    if wanted.verdict:
        state &= Q(verdict=wanted.verdict)
    match wanted.readiness:
        case "":
            return state
        case "ready":
            return state & fresh_on(today) & Q(readiness__in=[Readiness.MAY_GO_OUT, Readiness.WITH_LIMITS])
        case Readiness.STAYS_IN:
            return state & Q(whereabouts__in=AT_HAND) & (Q(readiness=Readiness.STAYS_IN) | Q(ready_until__lt=today))
    return state & fresh_on(today) & Q(readiness=wanted.readiness)


def in_state(rows: InstrumentQuerySet, wanted: Wanted, *, today: date) -> InstrumentQuerySet:
    """Rows by whereabouts, verdict and what may go out today."""
    return rows.filter(state_wanted(wanted, today=today))


def fits(state: State, wanted: Wanted) -> bool:
    """The same as state_wanted(), of a state that has been counted."""
    if wanted.whereabouts:
        if state.whereabouts != wanted.whereabouts:
            return False
    elif not state.is_held:
        return False
    if wanted.verdict and state.verdict != wanted.verdict:
        return False
    if wanted.readiness == READY:
        return state.readiness != Readiness.STAYS_IN
    if wanted.readiness == Readiness.STAYS_IN and not state.is_at_hand:
        return False
    return not wanted.readiness or state.readiness == wanted.readiness


def for_list(rows: InstrumentQuerySet, *, today: date) -> InstrumentQuerySet:
    """Only the columns that the list shows."""
    return rows.for_table().only(*LIST_COLUMNS).annotate(readiness_today=readiness_on(today))


@dataclass(frozen=True, slots=True)
class Register:
    """The rows that somebody looks for, and the states of all that has the words, kind, school and room."""

    rows: InstrumentQuerySet
    states: Counter[State]
    is_cut: bool  # more rows hold the words than are listed and counted

    def count(self, wanted: Wanted) -> int:
        """How many are in this state: the length of the list that the same filter leads to."""
        return count_of(self.states, lambda state: fits(state, wanted))


def register_of(user: Any, wanted: Wanted, *, today: date) -> Register:
    """Return what fits. Sums by school, kind and state are kept; only a search by words stops counting somewhere.

    Without words three queries at most; with them the first MOST_FOUND that hold the words, by number, are all there is.
    """
    ground = ground_for(user, wanted, today=today)
    rows = in_state(ground, wanted, today=today)
    is_cut = False
    if wanted.q.strip():
        is_any_state = state_wanted(wanted, today=today) == HELD
        of_all, is_cut = _first(rows if is_any_state else ground)
        keys = of_all
        if not is_any_state:  # all that hold the words are known: they are not looked for a second time
            keys, is_cut = _first(rows if is_cut else rows.filter(pk__in=of_all))
        rows = Instrument.objects.filter(pk__in=keys)
        states = _counted(Instrument.objects.filter(pk__in=of_all), today=today)
    elif any(getattr(wanted, name) for name in COUNTED_BY):
        states = _counted(ground, today=today)
    else:
        schools = schools_of(user)
        fleets = fleets_of(schools.filter(pk=wanted.school) if wanted.school else schools, today=today)
        states = states_of(fleets.values(), kind=wanted.kind)
    return Register(for_list(rows, today=today), states, is_cut)


def _first(rows: InstrumentQuerySet) -> tuple[list[int], bool]:
    """The keys of the first rows by number, and whether there are more. One query, that an index answers alone."""
    keys = list(rows.order_by("asset_number").values_list("pk", flat=True)[: MOST_FOUND + 1])
    return keys[:MOST_FOUND], len(keys) > MOST_FOUND


def _counted(rows: InstrumentQuerySet, *, today: date) -> Counter[State]:
    """The states of these few rows. One query."""
    grouped = rows.order_by().annotate(now=readiness_on(today)).values_list("whereabouts", "verdict", "now")
    return Counter({State(*state): count for *state, count in grouped.annotate(count=Count("pk"))})


def known_makers(rows: InstrumentQuerySet) -> list[str]:
    """Makers of the newest instruments, the latest first: what somebody adding a shelf of them types again and again."""
    newest = rows.exclude(maker="").order_by("-pk").values_list("maker", flat=True)[:MAKERS_FROM]
    return list(dict.fromkeys(newest))[:MAKERS_KNOWN]
