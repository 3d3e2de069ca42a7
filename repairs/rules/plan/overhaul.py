"""Many bad places of one sort: a repad instead of pad after pad, where it is cheaper or the trade's rule says so."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from decimal import Decimal

from core.money import cents
from inventory.catalog.schema import Method, Overhaul
from inventory.rules.facts import FindingFact
from repairs.rules.plan.case import Case
from repairs.rules.plan.choose import Chosen, sent_out, shop_fee
from repairs.rules.plan.estimate import parts_range
from repairs.rules.plan.needs import Needed, all_needs, putting_back, refusal_of
from repairs.rules.plan.values import AtOnce, Bill, SentOut

FEWEST = 2  # bad places; one is put right by itself


def overhaul(case: Case, *, chosen: Chosen) -> None:
    """Replace work planned place by place with the work on all places, and keep the arithmetic of both.

    Where this bench can do it, the trade's count decides as well as the cost; at a shop only the cost does, unless
    the single ones would go there too. A tech who skips it gets the single steps back.
    """
    for one in case.catalog.overhauls.values():
        if one.fits(case.kind) and case.outcome(one.method) is None:
            _weigh(case, one=one, chosen=chosen)


def _weigh(case: Case, *, one: Overhaul, chosen: Chosen) -> None:
    """Compare the bills of both ways, and carry out the one on all places where it is chosen."""
    here = [needed for needed in chosen.methods.values() if needed.method.code in one.instead_of]
    away = [sent for sent in chosen.send_out if sent.method in one.instead_of]
    count = len(here) + len(away)
    if count < FEWEST:
        return
    method = case.catalog.methods[one.method]
    needs = all_needs(case, codes=method.needs, part="", place="")
    refusal = refusal_of(case, method)
    single = _one_by_one(case, here=here, away=away)
    if refusal:
        whole = Bill(minutes=0.0, amount=_middle(shop_fee(case.catalog, method)))
    else:
        whole = _all_here(case, method=method, needs=needs.found, chosen=chosen)
    is_many = count >= one.from_count
    is_chosen = whole.amount <= single.amount or (is_many and (not refusal or len(away) >= len(here)))
    if is_chosen:
        findings = _take_off(chosen, here=here, away=away)
        if refusal:
            chosen.send_out += [sent_out(case, method=method, finding=finding, why=refusal) for finding in findings]
        else:
            chosen.add(*needs.found, Needed(method))
            chosen.findings.setdefault(method.code, []).extend(findings)
    if is_chosen or is_many:
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
            )
        )


def _take_off(chosen: Chosen, *, here: Sequence[Needed], away: Sequence[SentOut]) -> list[FindingFact]:
    """Take single steps and single jobs of a shop off the plan; return the findings they were for."""
    findings = [finding for needed in here for finding in chosen.findings.pop(needed.key, [])]
    for needed in here:
        del chosen.methods[needed.key]
    chosen.send_out[:] = [sent for sent in chosen.send_out if sent not in away]
    return findings + [sent.finding for sent in away]


def _one_by_one(case: Case, *, here: Sequence[Needed], away: Sequence[SentOut]) -> Bill:
    bill = _bill(case, [needed.method for needed in here])
    fees = sum((_middle((sent.fee_low_amount, sent.fee_high_amount)) for sent in away), Decimal(0))
    return Bill(minutes=bill.minutes, amount=bill.amount + fees)


def _all_here(case: Case, *, method: Method, needs: Sequence[Needed], chosen: Chosen) -> Bill:
    """Return what all places take, with what else has to be done for it and is not planned anyway."""
    before = [needed.method for needed in needs if needed.key not in chosen.methods]
    back = putting_back(case, [*before, method])
    return _bill(case, [method, *before, *(one.method for one in back if one.key not in chosen.methods)])


def _bill(case: Case, methods: Sequence[Method]) -> Bill:
    counts = Counter(method.code for method in methods)
    minutes = sum(case.mean_minutes(method) for method in methods)
    for code, count in counts.items():  # the same work is set up once
        minutes -= (count - 1) * case.set_up.within(case.mean_minutes(case.catalog.methods[code]))
    parts = sum(parts_range(method.parts).likely for method in methods)
    return Bill(minutes=minutes, amount=cents(case.bench_time(minutes) + Decimal(str(parts))))


def _middle(span: tuple[Decimal, Decimal]) -> Decimal:
    return cents((span[0] + span[1]) / 2)
