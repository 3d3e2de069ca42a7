"""The methods that must come before a method or put its work back together, as far as the kind has the parts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from core.translation import gettext as _
from inventory.catalog.schema import Method
from repairs.rules.facts import Outcome
from repairs.rules.plan.case import Case, step_key


@dataclass(frozen=True, slots=True)
class Needed:
    """A method to be done at a part; "" for the whole instrument."""

    method: Method
    part: str = ""
    place: str = ""

    @property
    def key(self) -> str:
        return step_key(method=self.method.code, part=self.part, place=self.place)


@dataclass(frozen=True, slots=True)
class Needs:
    """Everything needed, deepest first, or the reason why it cannot be had here."""

    found: tuple[Needed, ...] = ()
    refusal: str = ""


def needed_at(method: Method, *, part: str, place: str) -> Needed:
    """Return the method at a part, or once for the whole instrument if that is how it is done."""
    return Needed(method) if method.whole else Needed(method, part, place)


def direct_needs(case: Case, *, codes: Iterable[str], part: str, place: str) -> tuple[Needed, ...]:
    """Return the needed methods that apply to this kind, whether done already or not."""
    methods = [case.catalog.methods[code] for code in codes]
    return tuple(
        needed_at(method, part=part, place=place)
        for method in methods
        if not method.ladder and case.may_be_done(method)
    )


def needs_of(case: Case, method: Method, *, part: str) -> tuple[str, ...]:
    """Return the codes of what a method needs at a part ("" for the whole instrument)."""
    return method.needs_with(case.parts[part].role) if part else method.needs


def putting_back(case: Case, methods: Iterable[Method]) -> tuple[Needed, ...]:
    """Return what puts back together what these methods take apart, on this kind."""
    codes = dict.fromkeys(code for method in methods for code in method.put_back)
    return direct_needs(case, codes=codes, part="", place="")


def is_settled(case: Case, key: str) -> bool:
    """Whether a needed step has been done, or knowingly skipped because there was nothing to do."""
    outcome = case.outcome(key)
    return outcome is not None and (outcome.is_success or outcome is Outcome.SKIPPED)


def all_needs(case: Case, *, codes: Iterable[str], part: str, place: str) -> Needs:
    """Return every needed method that is not done yet, needs of needs included."""
    found: dict[str, Needed] = {}
    for needed in direct_needs(case, codes=codes, part=part, place=place):
        if is_settled(case, needed.key):
            continue
        method = needed.method
        why = (
            case.given_up.get(needed.key, "")
            or case.lacking_for(method)
            or case.forbidden(tags=method.tags, part=needed.part, wait_h=method.wait_h, is_whole=method.whole)
        )
        if why:
            return Needs(refusal=_("it needs “%(method)s” first, but %(why)s", method=method.name, why=why))
        at = needed.part or part
        deeper = all_needs(case, codes=needs_of(case, method, part=at), part=at, place=needed.place or place)
        if deeper.refusal:
            return deeper
        found |= {one.key: one for one in deeper.found}
        found[needed.key] = needed
    return Needs(found=tuple(found.values()))


def cleaning_method(case: Case) -> Method | None:
    """Return the gentlest method at this bench that cleans oil off the whole instrument, or None."""
    return next((method for method in cleanings(case) if not refusal_of(case, method)), None)


def cleanings(case: Case) -> list[Method]:
    """Return what cleans the whole instrument and takes oil off, at any bench, the quickest first."""
    found = [
        method
        for method in case.catalog.methods.values()
        if method.whole and case.cleans_oil(set(method.tags)) and case.may_be_done(method)
    ]
    return sorted(found, key=lambda method: (method.minutes[1], method.code))


def refusal_of(case: Case, method: Method) -> str:
    """Return why a method for the whole instrument cannot be done here; "" if it can."""
    return (
        case.given_up.get(method.code, "")
        or case.forbidden(tags=method.tags, part="", wait_h=method.wait_h, is_whole=True)
        or case.lacking_for(method)
        or all_needs(case, codes=method.needs, part="", place="").refusal
    )
