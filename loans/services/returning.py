"""Taking an instrument back."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.utils.translation import gettext as _

from core.acts import service
from core.events import already
from core.models import User
from inventory.models import Inspection, Whereabouts
from inventory.services.care import require_hygiene
from inventory.services.event_log import log_event
from inventory.services.inspecting import count_accessories
from inventory.services.state import lock_instrument, move_instrument
from loans.exceptions import AccessoriesError, AlreadyReturnedError, InspectionMissingError
from loans.models import Loan
from loans.rules.compare import accessories_short

OUT = (Whereabouts.WITH_STUDENT, Whereabouts.NOT_FOUND)  # an instrument lost by a student may turn up


@service
def return_loan(
    *, loan: Loan, taken_back: Inspection, accessories_back: Mapping[str, int], actor: User, at: datetime
) -> Loan:
    """Close the loan, put the instrument in storage, and require cleaning before the next player.

    ``accessories_back`` maps the codes that went out to how many came back. Raises AlreadyReturnedError and writes
    nothing if the loan is already closed.
    """
    instrument = lock_instrument(loan.instrument_id)
    if (
        taken_back.instrument_id != instrument.pk
        or taken_back.finished_at is None
        or taken_back.finished_at < loan.lent_at
    ):
        raise InspectionMissingError(_("Inspect it first: no inspection has been finished since it went out."))
    handed = {row["code"]: int(row["count"]) for row in loan.accessories}
    unknown = set(accessories_back) - set(handed)
    if unknown:
        raise AccessoriesError(_("Did not go out with it: %(names)s.") % {"names": ", ".join(sorted(unknown))})
    if any(count < 0 for count in accessories_back.values()):
        raise AccessoriesError(_("Enter 0 or more."))
    back = [
        {"code": row["code"], "name": row["name"], "count": int(accessories_back.get(row["code"], 0))}
        for row in loan.accessories
    ]
    is_closed = (
        Loan.objects.open()
        .filter(pk=loan.pk)
        .update(returned_at=at, returned_to=actor, taken_back=taken_back, accessories_back=back)
    )
    if not is_closed:
        words = _("It has already been returned. Nothing was changed.")
        raise AlreadyReturnedError(already(words, subject=loan, acts=["returned"]))
    expected = instrument.whereabouts if instrument.whereabouts in OUT else Whereabouts.WITH_STUDENT
    move_instrument(
        instrument=instrument,
        expected=expected,
        to=Whereabouts.IN_STORE,
        actor=actor,
        at=at,
        reference=f"loan:{loan.pk}",
    )
    if back:
        kept = {row["code"]: int(row.get("kept", 0)) for row in loan.accessories}
        known = set(instrument.accessories.values_list("code", flat=True))
        counts = {row["code"]: row["count"] + kept[row["code"]] for row in back if row["code"] in known}
        count_accessories(instrument=instrument, counts=counts, actor=actor, at=at)
    require_hygiene(instrument=instrument, actor=actor, at=at)
    log_event(
        instrument=instrument,
        act="returned",
        subject=loan,
        after={
            "inspection": taken_back.pk,
            "accessories_short": accessories_short(handed, {row["code"]: row["count"] for row in back}),
        },
    )
    closed = Loan.objects.select_related("student").get(pk=loan.pk)
    closed.instrument = instrument
    return closed
