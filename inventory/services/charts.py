"""Confirm a fingering chart for the district, and withdraw the confirmation."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from django.utils.translation import gettext

from core.acts import service
from core.events import record_event
from core.models import User
from inventory.catalog.load.language import catalog_word
from inventory.exceptions import RefusedError
from inventory.models import ChartConfirmation
from inventory.selectors.charts import chart_digest, known_charts


@service(once="nonce")
def confirm_chart(
    *, code: str, digest: str, actor: User, on: date, at: datetime, nonce: UUID | None = None
) -> ChartConfirmation:
    """Note that somebody checked the chart as it was shown (``digest``). Again for a chart that has changed since.

    RefusedError for an unknown chart, one that needs no confirmation, or one that has changed since it was read.
    """
    chart = known_charts().get(code)
    if chart is None:
        raise RefusedError(gettext("There is no chart called %(code)s.") % {"code": code[:80]})
    if chart.verified:
        raise RefusedError(
            gettext("%(chart)s is already checked against published fingerings.") % {"chart": catalog_word(chart.name)}
        )
    if digest != chart_digest(code):
        raise RefusedError(gettext("The chart has changed since you opened it. Read it again, then confirm."))
    row, is_new = ChartConfirmation.objects.get_or_create(
        chart=code, defaults={"digest": digest, "confirmed_on": on, "confirmed_by": actor}
    )
    if not is_new and row.digest == digest:
        return row
    ChartConfirmation.objects.filter(pk=row.pk).update(digest=digest, confirmed_on=on, confirmed_by=actor)
    record_event(act="chart_confirmed", subject=row, after={"chart": code, "digest": digest, "on": on})
    return ChartConfirmation.objects.get(pk=row.pk)


@service
def withdraw_chart(*, code: str, actor: User, at: datetime) -> None:
    """Withdraw a confirmation: the mark returns. Doing it twice changes nothing more."""
    row = ChartConfirmation.objects.filter(chart=code).first()
    if row is None:
        return
    record_event(act="chart_withdrawn", subject=row, before={"chart": code, "digest": row.digest})
    ChartConfirmation.objects.filter(pk=row.pk).delete()
