"""Many bad places of one sort: a repad instead of pad after pad, where it is cheaper or the trade's rule says so."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from inventory.catalog.schema import Method, Overhaul
from repairs.rules.effort import pert_mean
from repairs.rules.plan.case import Case, step_key
from repairs.rules.plan.choose import Chosen, sent_out, shop_fee
from repairs.rules.plan.estimate import parts_range
from repairs.rules.plan.needs import Needed, all_needs
from repairs.rules.plan.together import putting_back
from repairs.rules.plan.values import AtOnce, Bill, SentOut

CENT = Decimal("0.01")
FEWEST = 2


def overhaul(case: Case, *, chosen: Chosen) -> None:
    """Replace work planned place by place with the work on all places, and keep the arithmetic of both.

    Where this bench can do it, the trade's count decides as well as the cost; at a shop only the cost does, unless
    the single ones would go there too. A tech who skips it gets the single steps back.
    """
    for one in case.catalog.overhauls.values():
        if one.fits(case.kind) and case.outcome(one.method) is None:
            _weigh(case, one=one, chosen=chosen)


def _weigh(case: Case, *, one: Overhaul, chosen: Chosen) -> None:
    here = [key for key, needed in chosen.methods.items() if needed.method.code in one.instead_of]
    away = [sent for sent in chosen.send_out if sent.method in one.instead_of]
    count = len(here) + len(away)
    if count < FEWEST:
        return
    method = case.catalog.methods[one.method]
    needs = all_needs(case, codes=method.needs, part="", place="")
    refusal = (
        case.given_up.get(one.method, "")
        or case.forbidden(tags=method.tags, part="", wait_h=method.wait_h, is_whole=True)
        or case.lacking_for(method)
        or needs.refusal
    )
    single = _one_by_one(case, steps=[chosen.methods[key] for key in here], away=away)
    if refusal:
        whole = Bill(minutes=0.0, amount=_middle(shop_fee(case, method)))
    else:
        whole = _all_here(case, method=method, needs=needs.found, chosen=chosen)
    is_ruled = count >= one.from_count and (not refusal or len(away) >= len(here))
    is_chosen = whole.amount <= single.amount or is_ruled
    if is_chosen and refusal:
        _send_all(case, one=one, here=here, chosen=chosen, why=refusal)
    elif is_chosen:
        _take_all(one=one, here=here, chosen=chosen, needs=needs.found, method=method)
    if is_chosen or count >= one.from_count:
        chosen.at_once.append(
            AtOnce(
                method=method.code,
                say=method.name,
                each=one.each,
                count=count,
                one_by_one=single,
                all_at_once=whole,
                from_count=one.from_count,
                because=one.because,
                is_chosen=is_chosen,
                is_at_shop=bool(refusal),
                step_key=step_key(method=method.code),
            )
        )


def _one_by_one(case: Case, *, steps: Sequence[Needed], away: Sequence[SentOut]) -> Bill:
    minutes = sum(pert_mean(case.minutes(step.method.code, step.method.minutes)) for step in steps)
    parts = sum(parts_range(step.method.parts).likely for step in steps)
    fees = sum((_middle((sent.fee_low_amount, sent.fee_high_amount)) for sent in away), Decimal(0))
    return Bill(minutes=minutes, amount=_dollars(case, minutes=minutes, parts=parts) + fees)


def _all_here(case: Case, *, method: Method, needs: Sequence[Needed], chosen: Chosen) -> Bill:
    """Return what all places take, with what else has to be done for it and is not planned anyway."""
    more = [needed for needed in needs if needed.key not in chosen.methods]
    taken_apart = [needed.method for needed in more]
    back = [needed for needed in putting_back(case, [*taken_apart, method]) if needed.key not in chosen.methods]
    methods = [method, *taken_apart, *(needed.method for needed in back)]
    minutes = sum(pert_mean(case.minutes(one.code, one.minutes)) for one in methods)
    parts = sum(parts_range(one.parts).likely for one in methods)
    return Bill(minutes=minutes, amount=_dollars(case, minutes=minutes, parts=parts))


def _dollars(case: Case, *, minutes: float, parts: float) -> Decimal:
    return (case.bench.rate_amount * Decimal(str(minutes)) / 60 + Decimal(str(parts))).quantize(CENT)


def _middle(span: tuple[Decimal, Decimal]) -> Decimal:
    return ((span[0] + span[1]) / 2).quantize(CENT)


def _take_all(*, one: Overhaul, here: Sequence[str], chosen: Chosen, needs: Sequence[Needed], method: Method) -> None:
    findings = [finding for key in here for finding in chosen.findings.pop(key, [])]
    findings += [sent.finding for sent in chosen.send_out if sent.method in one.instead_of]
    chosen.send_out[:] = [sent for sent in chosen.send_out if sent.method not in one.instead_of]
    for key in here:
        del chosen.methods[key]
    for needed in needs:
        chosen.add(needed)
    chosen.add(Needed(key=method.code, method=method, part="", place=""))
    chosen.findings.setdefault(method.code, []).extend(findings)


def _send_all(case: Case, *, one: Overhaul, here: Sequence[str], chosen: Chosen, why: str) -> None:
    method = case.catalog.methods[one.method]
    findings = [finding for key in here for finding in chosen.findings.pop(key, [])]
    findings += [sent.finding for sent in chosen.send_out if sent.method in one.instead_of]
    chosen.send_out[:] = [sent for sent in chosen.send_out if sent.method not in one.instead_of]
    for key in here:
        del chosen.methods[key]
    chosen.send_out += [sent_out(case, method=method, finding=finding, why=why) for finding in findings]
