"""Columns of the list of closed jobs."""

from __future__ import annotations

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.tables import CARD_TITLE, BaseTable, DayColumn
from repairs.models import Job


class ClosedJobTable(BaseTable):
    instrument = tables.Column(
        accessor="instrument__asset_number",
        verbose_name=_("Instrument"),
        attrs=CARD_TITLE,
        linkify=lambda record: reverse("repairs:job", args=[record.pk]),
    )
    kind = tables.Column(accessor="instrument__kind__name", order_by=("instrument__kind_code",), verbose_name=_("Kind"))
    school = tables.Column(accessor="instrument__school__name", verbose_name=_("School"))
    bench = tables.Column(accessor="bench__name", verbose_name=_("Bench"))
    opened_at = DayColumn(verbose_name=_("Opened"))
    closed_at = DayColumn(verbose_name=_("Closed"))
    result = tables.Column(accessor="play_test__result", verbose_name=_("Ended"), empty_values=())

    class Meta(BaseTable.Meta):
        model = Job
        fields = ("instrument", "kind", "school", "bench", "opened_at", "closed_at", "result")
        order_by = ("-closed_at",)
        empty_text = _("No job has been closed")

    count_word = _("job")

    def render_result(self, record: Job) -> str:
        if record.play_test is None:
            return gettext("Given up: %(reason)s") % {"reason": record.ended_because}
        return record.play_test.get_result_display()
