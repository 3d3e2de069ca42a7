"""What is done about each finding: a method here, a ladder, a shop, or nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from decimal import Decimal

from core.money import cents
from core.translation import gettext as _
from core.translation import gettext_noop
from inventory.catalog.names import remedy_for
from inventory.catalog.schema import Catalog, Family, Method, Remedy, Skill
from inventory.rules.facts import FindingFact, Owed
from repairs.rules.facts import BETWEEN_PLAYERS, Outcome
from repairs.rules.plan.case import WATCHING, Case
from repairs.rules.plan.needs import (
    Needed,
    all_needs,
    cleaning_method,
    cleanings,
    direct_needs,
    needed_at,
    needs_of,
    putting_back,
    refusal_of,
)
from repairs.rules.plan.rungs import Climb, Spot, climb_ladder
from repairs.rules.plan.values import AtOnce, Left, PlannedRung, RungState, SentOut

LOOKS_ONLY = gettext_noop("looks only: it does not affect playing")
SHOP_RATE_SETTING = "shop_rate_per_hour"
SHOP_RATE = Decimal(75)  # dollars an hour where a shop's fee is not known; shop default
FULL_CLEANING = "full_cleaning"
BLOWN = frozenset({Family.BRASS, Family.WOODWIND})


@dataclass(slots=True)
class Chosen:
    """Methods by step key with the findings they are for; ladders; what leaves the bench; what stays."""

    methods: dict[str, Needed] = field(default_factory=dict)
    findings: dict[str, list[FindingFact]] = field(default_factory=dict)
    climbs: dict[str, Climb] = field(default_factory=dict)
    sent_climbs: dict[str, Climb] = field(default_factory=dict)  # left to a shop, nothing having gone wrong here
    send_out: list[SentOut] = field(default_factory=list)
    leave: list[Left] = field(default_factory=list)
    looks: list[FindingFact] = field(default_factory=list)
    at_once: list[AtOnce] = field(default_factory=list)
    not_here: list[str] = field(default_factory=list)  # what is owed and this bench cannot do

    def add(self, *needed: Needed, finding: FindingFact | None = None) -> None:
        for one in needed:
            self.methods.setdefault(one.key, one)
            if finding is not None:
                self.findings.setdefault(one.key, []).append(finding)

    def works(self) -> dict[str, str]:
        """Return what is done at each step by its key: the method, or the rung of a ladder."""
        works = {key: needed.method.code for key, needed in self.methods.items()}
        return works | {rung.step_key: climb.work(rung) for climb, rung in self.next_tries()}

    def set_up_before(self, keys: Iterable[str]) -> frozenset[str]:
        """Return which of these steps, done in this order, the same work at another part has set up."""
        works, first = self.works(), dict[str, str]()
        return frozenset(key for key in keys if first.setdefault(works[key], key) != key)

    def next_tries(self) -> Iterator[tuple[Climb, PlannedRung]]:
        """Yield each ladder with the rung to try next."""
        for climb in self.climbs.values():
            if climb.next_rung is not None:
                yield climb, climb.next_rung


def choose_methods(case: Case) -> Chosen:
    """Go through the findings along the air path and choose what is done about each.

    Stuck parts come after the rest: their ladders depend on the work that is planned anyway.
    """
    chosen = Chosen()
    ordered = sorted(
        case.findings, key=lambda one: (case.part_order[one.part], one.place, one.fault, -one.severity.rank)
    )
    if not case.is_looks_included:
        chosen.looks += [finding for finding in ordered if case.is_for_looks(finding)]
    _add_owed(case, chosen)
    worked_on = [one for one in ordered if one not in chosen.looks and not _is_overhauled(case, one)]
    for finding in sorted(worked_on, key=lambda one: any(method.ladder for method in methods_of(case, one))):
        _Choice(case, finding, chosen).make()
    _settle_looks(case, chosen)
    # A ladder was ordered before later findings added their shared work: only now is it known what rides along free.
    _climb_again(case, chosen)
    return chosen


def _add_owed(case: Case, chosen: Chosen) -> None:
    """Add the cleaning owed whatever was found: what touches a mouth, and all of it where nobody knows its past.

    What is missing is washed only once another is there: until then it stays owed.
    """
    owed = [
        method
        for method in case.catalog.methods.values()
        if Owed.HYGIENE in case.cleaning_owed and BETWEEN_PLAYERS in method.tags and case.is_there(method)
    ]
    if Owed.FULL in case.cleaning_owed and case.kind.family in BLOWN:
        full = [method for method in cleanings(case) if FULL_CLEANING in method.tags]
        owed += [method for method in full if not refusal_of(case, method)] or full  # refused alike: said below
    for method in owed:
        if case.outcome(method.code) is not None:
            continue
        if why := refusal_of(case, method):
            chosen.not_here.append(_("“%(method)s” is owed, but %(why)s", method=method.name, why=why))
        else:
            chosen.add(*all_needs(case, codes=method.needs, part="", place="").found, Needed(method))


def methods_of(case: Case, finding: FindingFact) -> tuple[Method, ...]:
    """Return the methods to try for a finding, gentlest first; to leave it as it is, only where looks do not count."""
    remedy = _remedy(case, finding)
    methods = tuple(case.catalog.methods[code] for code in remedy.methods) if remedy is not None else ()
    return (case.is_looks_included and tuple(one for one in methods if not WATCHING.intersection(one.tags))) or methods


def _remedy(case: Case, finding: FindingFact) -> Remedy | None:
    return remedy_for(
        catalog=case.catalog,
        kind=case.kind,
        fault=finding.fault,
        role=case.parts[finding.part].role,
        severity=finding.severity,
    )


def _needed(method: Method, finding: FindingFact) -> Needed:
    return needed_at(method, part=finding.part, place=finding.place)


@dataclass(slots=True)
class _Choice:
    """The search for what to do about one finding: its methods one by one, and why each did not serve."""

    case: Case
    finding: FindingFact
    chosen: Chosen
    reasons: list[str] = field(default_factory=list)
    tried: list[str] = field(default_factory=list)
    shop: Method | None = None  # the gentlest method a shop could be asked for

    def make(self) -> None:
        remedy = _remedy(self.case, self.finding)
        at_once = all_needs(
            self.case,
            codes=remedy.at_once if remedy is not None else (),
            part=self.finding.part,
            place=self.finding.place,
        )
        self.chosen.add(*at_once.found)
        if not any(self._settles(method) for method in methods_of(self.case, self.finding)):
            self._send_out()

    def _settles(self, method: Method) -> bool:
        """Try one method; return whether nothing more has to be looked for."""
        if method.ladder:
            return self._settles_by_ladder(method)
        step = _needed(method, self.finding)
        given_up, forbidden = self.case.given_up.get(step.key, ""), self._forbidden(method)
        if given_up or forbidden:
            self.reasons.append(given_up or forbidden)
            if not forbidden:
                self._ask_shop_for(method)
            return False
        outcome = self.case.outcome(step.key)
        if outcome is not None:
            return self._settles_by_outcome(method, outcome)
        codes = needs_of(self.case, method, part=step.part)
        needs = all_needs(self.case, codes=codes, part=self.finding.part, place=self.finding.place)
        lacking = self.case.lacking_for(method) or needs.refusal
        if lacking:
            self.reasons.append(lacking)
            self._ask_shop_for(method)
            return False
        self.chosen.add(*needs.found)
        self.chosen.add(step, finding=self.finding)
        return True

    def _forbidden(self, method: Method) -> str:
        """Return why nobody should do this; a specialist may put right with heat the very fault that warns of it.

        Rot forbids the torch on its tube, but a new tube is soldered in with one, whatever else was wrong with the old.
        Force stays forbidden.
        """
        part = self.finding.part
        guards = self.case.guards_against(method.tags, part=part, place=self.finding.place, is_whole=method.whole)
        for guard, cause in guards:
            is_cured = cause.part == part and cause.fault in method.fixes
            if not is_cured or method.skill is not Skill.SPECIALIST or "force" in method.tags:
                return guard.because
        return self.case.wetted(frozenset(method.tags), part=part, wait_h=method.wait_h, is_whole=method.whole)

    def _settles_by_outcome(self, method: Method, outcome: Outcome) -> bool:
        if outcome is Outcome.SKIPPED:
            self._leave_skipped(method)
        elif outcome.is_halt:
            damaged = _("“%(method)s” damaged the part: nothing more is tried here", method=method.name)
            stopped = _("“%(method)s” was stopped: nothing more is tried here", method=method.name)
            self.reasons.append(damaged if outcome is Outcome.DAMAGED else stopped)
            self.shop = method
            self._send_out()
        elif not outcome.is_success:
            self.tried.append(method.name)
            return False
        return True

    def _settles_by_ladder(self, method: Method) -> bool:
        climb = climb_ladder(_spot(self.case, self.chosen, method, part=self.finding.part, place=self.finding.place))
        if climb.is_skipped and not climb.is_freed:
            self._leave_skipped(method)
        elif not climb.is_freed and (climb.next_rung is None or climb.is_halted):
            self.reasons.append(_why_no_rung(climb))
            self._send_ladder_out(climb)
        elif not climb.is_freed:
            key = climb.planned.key
            self.chosen.climbs[key] = climb
            self.chosen.findings.setdefault(key, []).append(self.finding)
            self.chosen.add(*_next_needs(self.case, climb))
        return True

    def _leave_skipped(self, method: Method) -> None:
        self.chosen.leave.append(Left(finding=self.finding, why=_("“%(method)s” was skipped here", method=method.name)))

    def _ask_shop_for(self, method: Method) -> None:
        """Keep the gentlest method that this bench lacks; one with its own fee, or a specialist's, goes before it."""
        if self.shop is None or (
            method.fee is not None and not (self.shop.fee and self.shop.skill is Skill.SPECIALIST)
        ):
            self.shop = method

    @property
    def _why(self) -> str:
        tried = [_("tried here and still not right: %(ways)s", ways=", ".join(self.tried))] if self.tried else []
        return "; ".join((*tried, *dict.fromkeys(self.reasons)))

    def _send_out(self) -> None:
        if self.shop is not None:
            sent = sent_out(self.case, method=self.shop, finding=self.finding, why=self._why)
        else:
            why = self._why or _("the catalog has no method for it: ask a shop")
            free = Decimal(0)
            sent = SentOut(self.finding, "", _("Ask a shop"), why, fee_low_amount=free, fee_high_amount=free)
        self.chosen.send_out.append(sent)

    def _send_ladder_out(self, climb: Climb) -> None:
        """Ask for the specialist's rung of the ladder where it has a fee, else for the method as a whole."""
        rungs = [rung for rung in climb.ladder.rungs if rung.skill is Skill.SPECIALIST and rung.fee is not None]
        low, high = (rungs[-1].fee if rungs else None) or shop_fee(self.case.catalog, climb.method)
        self.chosen.send_out.append(
            SentOut(
                finding=self.finding,
                method=climb.method.code,
                say=rungs[-1].name if rungs else climb.method.name,
                why=self._why,
                fee_low_amount=low,
                fee_high_amount=high,
                wait_h=rungs[-1].wait_h if rungs else Decimal(0),
            )
        )
        key = climb.planned.key
        self.chosen.climbs.pop(key, None)
        if not climb.is_halted:
            self.chosen.sent_climbs[key] = climb
            self.chosen.findings.setdefault(key, []).append(self.finding)


def _spot(case: Case, chosen: Chosen, method: Method, *, part: str, place: str) -> Spot:
    mending = {
        finding: key
        for key, findings in chosen.findings.items()
        if key in chosen.methods and not WATCHING.intersection(chosen.methods[key].method.tags)
        for finding in findings
    }
    return Spot(
        case=case,
        method=method,
        part=part,
        place=place,
        planned=frozenset(chosen.methods) | {key for key in case.last_outcome if _is_done(case, key)},
        mending=mending,
        cleaning=cleaning_method(case),
    )


def _is_done(case: Case, key: str) -> bool:
    outcome = case.outcome(key)
    return outcome is not None and outcome.is_success


def _next_needs(case: Case, climb: Climb) -> tuple[Needed, ...]:
    if climb.next_rung is None:
        return ()
    return all_needs(case, codes=climb.next_rung.entry.needs, part=climb.planned.part, place=climb.planned.place).found


def _climb_again(case: Case, chosen: Chosen) -> None:
    """Order each ladder again now that all shared work is known: a bath planned for any finding makes its rungs free."""
    for key, climb in sorted(chosen.climbs.items()):
        planned = climb.planned
        again = climb_ladder(_spot(case, chosen, climb.method, part=planned.part, place=planned.place))
        chosen.climbs[key] = again
        chosen.add(*_next_needs(case, again))


def _why_no_rung(climb: Climb) -> str:
    if climb.is_halted:
        return _("a try was stopped or did damage: nothing more is tried here")
    reason = "; ".join(dict.fromkeys(rung.why for rung in climb.planned.rungs if rung.state is RungState.REFUSED))
    if any(rung.state is RungState.TRIED for rung in climb.planned.rungs):
        if reason:
            return _("every way this bench may try has been tried (%(reason)s)", reason=reason)
        return _("every way this bench may try has been tried")
    return reason or _("there is no way to try it at this bench")


def sent_out(case: Case, *, method: Method, finding: FindingFact, why: str) -> SentOut:
    """Return a finding for a shop with what its work and parts cost."""
    low, high = shop_fee(case.catalog, method)
    return SentOut(finding, method.code, method.name, why, low, high, wait_h=method.wait_h, parts=method.parts)


def shop_fee(catalog: Catalog, method: Method) -> tuple[Decimal, Decimal]:
    """Return what a shop asks: the catalog's fee, else its hourly rate times the catalog's minutes; and the parts."""
    rate = catalog.settings.get(SHOP_RATE_SETTING, SHOP_RATE)
    low, high = method.fee or (rate * method.minutes[0] / 60, rate * method.minutes[2] / 60)
    low += sum((part.low for part in method.parts), Decimal(0))
    high += sum((part.high for part in method.parts), Decimal(0))
    return cents(low), cents(high)


def bill_once(case: Case, *, chosen: Chosen) -> None:
    """Bill once what a shop does in one go: a tube for all that is wrong with it, a bath for the whole instrument."""
    billed: set[str] = set()
    free = Decimal(0)
    for at, one in enumerate(chosen.send_out):
        if one.method in case.catalog.methods:
            key = f"{one.say} {_needed(case.catalog.methods[one.method], one.finding).key}"
            if key in billed:
                chosen.send_out[at] = replace(one, fee_low_amount=free, fee_high_amount=free, parts=(), is_shared=True)
            billed.add(key)


def add_putting_back(case: Case, chosen: Chosen) -> None:
    """Add what puts back together whatever is taken apart in this plan, or has been lying apart since before."""
    chosen.add(*putting_back(case, [needed.method for needed in chosen.methods.values()]))
    chosen.add(*direct_needs(case, codes=sorted(case.owed), part="", place=""))
    _leave_to_putting_back(case, chosen)


def _leave_to_putting_back(case: Case, chosen: Chosen) -> None:
    """Drop single steps that putting back does anyway: strings that came off for a bath go on new, and not twice."""
    owed = case.owed.union(*(needed.method.put_back for needed in chosen.methods.values()))
    for back in [needed for key, needed in chosen.methods.items() if key in owed]:
        if back.key not in chosen.methods:  # another one does it
            continue
        for key in [key for key in chosen.methods if key != back.key]:
            findings = chosen.findings.get(key, [])
            if findings and all(case.puts_right(back.method, finding) for finding in findings):
                del chosen.methods[key]
                chosen.findings.setdefault(back.key, []).extend(chosen.findings.pop(key))


def _is_overhauled(case: Case, finding: FindingFact) -> bool:
    """Whether the work done on all places at once has put this one right."""
    return any(
        finding.fault in case.catalog.methods[one.method].fixes
        and any(method.code in one.instead_of for method in methods_of(case, finding))
        and _is_done(case, one.method)
        for one in case.catalog.overhauls.values()
        if one.fits(case.kind)
    )


def _settle_looks(case: Case, chosen: Chosen) -> None:
    """Leave what only looks bad, unless a step for the whole instrument that would cure it is done anyway."""
    for finding in chosen.looks:
        cures = methods_of(case, finding)
        for key, needed in chosen.methods.items():
            if needed.method.whole and needed.method in cures and case.puts_right(needed.method, finding):
                chosen.findings.setdefault(key, []).append(finding)
                break
        else:
            if not _was_fixed(case, finding):
                chosen.leave.append(Left(finding=finding, why=_(LOOKS_ONLY)))


def _was_fixed(case: Case, finding: FindingFact) -> bool:
    return any(
        _is_done(case, _needed(method, finding).key)
        for method in case.catalog.methods.values()
        if case.puts_right(method, finding) and not method.ladder
    )
