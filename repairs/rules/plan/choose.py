"""What is done about each finding: a method here, a ladder, a shop, or nothing."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from decimal import Decimal

from inventory.catalog.names import methods_for
from inventory.catalog.schema import Effect, Method, Skill
from inventory.rules.facts import FindingFact
from repairs.rules.facts import Outcome
from repairs.rules.plan.case import WATCHING, Case, step_key
from repairs.rules.plan.needs import Needed, all_needs, cleaning_method, needs_of
from repairs.rules.plan.rungs import Climb, Spot, climb_ladder
from repairs.rules.plan.values import AtOnce, Left, SentOut

LOOKS_ONLY = "looks only: it does not affect playing"
SHOP_RATE_SETTING = "shop_rate_per_hour"
SHOP_RATE = Decimal(75)  # dollars an hour where a shop's fee is not known; shop default
CENT = Decimal("0.01")


@dataclass(slots=True)
class Chosen:
    """Methods by step key with the findings they are for; ladders; what leaves the bench; what stays."""

    methods: dict[str, Needed] = field(default_factory=dict)
    findings: dict[str, list[FindingFact]] = field(default_factory=dict)
    climbs: dict[str, Climb] = field(default_factory=dict)
    send_out: list[SentOut] = field(default_factory=list)
    leave: list[Left] = field(default_factory=list)
    looks: list[FindingFact] = field(default_factory=list)
    at_once: list[AtOnce] = field(default_factory=list)

    def add(self, needed: Needed, *, finding: FindingFact | None = None) -> None:
        self.methods.setdefault(needed.key, needed)
        if finding is not None:
            self.findings.setdefault(needed.key, []).append(finding)


@dataclass(slots=True)
class _Search:
    """What came of walking down a finding's methods."""

    reasons: list[str] = field(default_factory=list)
    tried: list[str] = field(default_factory=list)
    shop: Method | None = None  # the gentlest method a shop could be asked for


def choose_methods(case: Case) -> Chosen:
    """Go through the findings along the air path and choose what is done about each.

    Stuck parts come after the rest: their ladders depend on the work that is planned anyway.
    """
    chosen = Chosen()
    ordered = sorted(
        case.findings, key=lambda one: (case.part_order[one.part], one.place, one.fault, -one.severity.rank)
    )
    for finding in ordered:
        if case.effect(finding) is Effect.LOOKS_ONLY and not case.is_looks_included:
            chosen.looks.append(finding)
    worked_on = [one for one in ordered if one not in chosen.looks and not _is_overhauled(case, one)]
    for finding in sorted(worked_on, key=lambda one: any(method.ladder for method in methods_of(case, one))):
        _choose(case, finding=finding, chosen=chosen)
    _settle_looks(case, chosen=chosen)
    _climb_again(case, chosen=chosen)
    return chosen


def methods_of(case: Case, finding: FindingFact) -> tuple[Method, ...]:
    """Return the methods to try for a finding, gentlest first."""
    codes = methods_for(
        catalog=case.catalog,
        kind=case.kind,
        fault=finding.fault,
        role=case.parts[finding.part].role,
        severity=finding.severity,
    )
    return tuple(case.catalog.methods[code] for code in codes)


def _key(method: Method, finding: FindingFact) -> str:
    if method.whole:
        return step_key(method=method.code)
    return step_key(method=method.code, part=finding.part, place=finding.place)


def _choose(case: Case, *, finding: FindingFact, chosen: Chosen) -> None:
    search = _Search()
    for method in methods_of(case, finding):
        if _take(case, method=method, finding=finding, chosen=chosen, search=search):
            return
    _send_out(case, finding=finding, chosen=chosen, search=search)


def _take(case: Case, *, method: Method, finding: FindingFact, chosen: Chosen, search: _Search) -> bool:
    """Try one method for a finding; return whether the finding is settled by it."""
    key = _key(method, finding)
    why = case.given_up.get(key, "") or _forbidden(case, method=method, finding=finding)
    if why and not method.ladder:
        search.reasons.append(why)
        return False
    if method.ladder:
        return _take_ladder(case, method=method, finding=finding, chosen=chosen, search=search)
    outcome = case.outcome(key)
    if outcome is not None:
        return _settled(outcome, method=method, finding=finding, chosen=chosen, search=search, case=case)
    if search.shop is None:
        search.shop = method
    why = case.lacking_for(method)
    if not why:
        at = "" if method.whole else finding.part
        codes = needs_of(case, method, part=at)
        needs = all_needs(case, codes=codes, part=finding.part, place=finding.place)
        why = needs.refusal
    if why:
        if method.fee is not None and (search.shop.fee is None or search.shop.skill is not Skill.SPECIALIST):
            search.shop = method
        search.reasons.append(why)
        return False
    for needed in needs.found:
        chosen.add(needed)
    place = ("", "") if method.whole else (finding.part, finding.place)
    chosen.add(Needed(key=key, method=method, part=place[0], place=place[1]), finding=finding)
    return True


def _forbidden(case: Case, *, method: Method, finding: FindingFact) -> str:
    """Return why nobody should do this; a specialist may put right with heat the very fault that warns of it, never by force.

    Rot forbids the torch on its tube, but a new tube is soldered in with one, whatever else was wrong with the old.
    """
    for guard, cause in case.guards_against(method.tags, part=finding.part, is_whole=method.whole):
        is_cured = cause.part == finding.part and cause.fault in method.fixes
        if not is_cured or method.skill is not Skill.SPECIALIST or "force" in method.tags:
            return guard.because
    return case.wetted(frozenset(method.tags), part=finding.part, wait_h=method.wait_h, is_whole=method.whole)


def _settled(
    outcome: Outcome, *, case: Case, method: Method, finding: FindingFact, chosen: Chosen, search: _Search
) -> bool:
    if outcome.is_success:
        return True
    if outcome is Outcome.SKIPPED:
        chosen.leave.append(Left(finding=finding, why=f"“{method.name}” was skipped here"))
        return True
    if outcome.is_halt:
        what = "damaged the part" if outcome is Outcome.DAMAGED else "was stopped"
        search.reasons.append(f"“{method.name}” {what}: nothing more is tried here")
        search.shop = method
        _send_out(case, finding=finding, chosen=chosen, search=search)
        return True
    search.tried.append(method.name)
    return False


def _take_ladder(case: Case, *, method: Method, finding: FindingFact, chosen: Chosen, search: _Search) -> bool:
    climb = climb_ladder(_spot(case, chosen=chosen, method=method, part=finding.part, place=finding.place))
    key = climb.planned.key
    if climb.is_freed:
        return True
    if climb.is_skipped:
        chosen.leave.append(Left(finding=finding, why=f"“{method.name}” was skipped here"))
        return True
    if climb.next_rung is None or climb.is_halted:
        search.reasons.append(_why_no_rung(climb))
        _send_ladder_out(case, finding=finding, climb=climb, chosen=chosen, search=search)
        return True
    chosen.climbs[key] = climb
    chosen.findings.setdefault(key, []).append(finding)
    for needed in _rung_needs(case, climb=climb):
        chosen.add(needed)
    return True


def _spot(case: Case, *, chosen: Chosen, method: Method, part: str, place: str) -> Spot:
    done = frozenset(key for key in case.last_outcome if _is_done(case, key))
    mending = {
        finding: key
        for key, findings in chosen.findings.items()
        if key in chosen.methods and not WATCHING.intersection(chosen.methods[key].method.tags)
        for finding in findings
    }
    planned = frozenset(chosen.methods) | done
    return Spot(
        case=case,
        method=method,
        part=part,
        place=place,
        planned=planned,
        mending=mending,
        cleaning=cleaning_method(case),
    )


def _is_done(case: Case, key: str) -> bool:
    outcome = case.outcome(key)
    return outcome is not None and outcome.is_success


def _rung_needs(case: Case, *, climb: Climb) -> tuple[Needed, ...]:
    rung = climb.next_rung
    if rung is None:
        return ()
    codes = climb.rung(rung.code).needs
    return all_needs(case, codes=codes, part=climb.planned.part, place=climb.planned.place).found


def _climb_again(case: Case, *, chosen: Chosen) -> None:
    """Order each ladder anew now that all shared work is known: a bath planned for any finding makes its rungs free."""
    for key, climb in sorted(chosen.climbs.items()):
        planned = climb.planned
        again = climb_ladder(_spot(case, chosen=chosen, method=climb.method, part=planned.part, place=planned.place))
        chosen.climbs[key] = again
        for needed in _rung_needs(case, climb=again):
            chosen.add(needed)


def _why_no_rung(climb: Climb) -> str:
    if climb.is_halted:
        return "a rung was stopped or did damage: nothing more is tried here"
    refused = [rung.why for rung in climb.planned.rungs if rung.state.value == "refused"]
    tried = any(rung.state.value == "tried" for rung in climb.planned.rungs)
    reason = "; ".join(dict.fromkeys(refused))
    if tried:
        return f"every rung this bench may try has been tried{f' ({reason})' if reason else ''}"
    return reason or "the ladder has no rung for this bench"


def _send_ladder_out(case: Case, *, finding: FindingFact, climb: Climb, chosen: Chosen, search: _Search) -> None:
    specialist = next(
        (rung for rung in reversed(climb.ladder.rungs) if rung.skill is Skill.SPECIALIST and rung.fee is not None), None
    )
    fee = specialist.fee if specialist is not None and specialist.fee is not None else shop_fee(case, climb.method)
    chosen.send_out.append(
        SentOut(
            finding=finding,
            method=climb.method.code,
            say=specialist.name if specialist is not None else climb.method.name,
            why=_sentence(search),
            fee_low_amount=fee[0],
            fee_high_amount=fee[1],
            wait_h=specialist.wait_h if specialist is not None else Decimal(0),
        )
    )
    chosen.climbs.pop(climb.planned.key, None)


def _send_out(case: Case, *, finding: FindingFact, chosen: Chosen, search: _Search) -> None:
    method = search.shop
    if method is None:
        why = _sentence(search) or "the catalog has no method for it: ask a shop"
        nothing = Decimal(0)
        chosen.send_out.append(
            SentOut(
                finding=finding, method="", say="Ask a shop", why=why, fee_low_amount=nothing, fee_high_amount=nothing
            )
        )
        return
    chosen.send_out.append(sent_out(case, method=method, finding=finding, why=_sentence(search)))


def sent_out(case: Case, *, method: Method, finding: FindingFact, why: str) -> SentOut:
    """Return a finding for a shop with what its work and parts cost."""
    low, high = shop_fee(case, method)
    return SentOut(
        finding=finding,
        method=method.code,
        say=method.name,
        why=why,
        fee_low_amount=low,
        fee_high_amount=high,
        wait_h=method.wait_h,
        parts=method.parts,
    )


def shop_fee(case: Case, method: Method) -> tuple[Decimal, Decimal]:
    """Return what a shop asks: the catalog's fee, else its hourly rate times the catalog's minutes; and the parts."""
    rate = case.catalog.settings.get(SHOP_RATE_SETTING, SHOP_RATE)
    low, high = method.fee or (rate * method.minutes[0] / 60, rate * method.minutes[2] / 60)
    low += sum((part.low for part in method.parts), Decimal(0))
    high += sum((part.high for part in method.parts), Decimal(0))
    return low.quantize(CENT), high.quantize(CENT)


def bill_once(case: Case, *, chosen: Chosen) -> None:
    """Let what a shop does in one go be paid once: one tube for all that is wrong with it, one bath for the whole horn."""
    billed: set[str] = set()
    for at, one in enumerate(chosen.send_out):
        method = case.catalog.methods.get(one.method)
        if method is None:
            continue
        key = f"{one.say} {_key(method, one.finding)}"
        if key in billed:
            nothing = Decimal(0)
            chosen.send_out[at] = replace(
                one, fee_low_amount=nothing, fee_high_amount=nothing, parts=(), is_shared=True
            )
        billed.add(key)


def _sentence(search: _Search) -> str:
    tried = [f"tried here and still not right: {', '.join(search.tried)}"] if search.tried else []
    return "; ".join((*tried, *dict.fromkeys(search.reasons)))


def _is_overhauled(case: Case, finding: FindingFact) -> bool:
    """Whether the work done on all places at once has put this one right."""
    return any(
        finding.fault in case.catalog.methods[one.method].fixes
        and any(method.code in one.instead_of for method in methods_of(case, finding))
        and _is_done(case, one.method)
        for one in case.catalog.overhauls.values()
        if one.fits(case.kind)
    )


def _settle_looks(case: Case, *, chosen: Chosen) -> None:
    """Leave what only looks bad, unless a step for the whole instrument takes it along anyway."""
    for finding in chosen.looks:
        for key, needed in chosen.methods.items():
            if needed.method.whole and finding.fault in needed.method.fixes and key in chosen.findings:
                chosen.findings[key].append(finding)
                break
        else:
            if not _was_fixed(case, finding):
                chosen.leave.append(Left(finding=finding, why=LOOKS_ONLY))


def _was_fixed(case: Case, finding: FindingFact) -> bool:
    return any(
        _is_done(case, _key(method, finding))
        for method in case.catalog.methods.values()
        if finding.fault in method.fixes and not method.ladder
    )
