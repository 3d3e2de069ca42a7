"""What a season plan would start, and what was started, in words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext, ngettext

from desk.pages.purchases import request_line
from desk.pages.season_shown import FIRST
from desk.selectors.season_started import StartedSeason
from inventory.models import Instrument
from repairs.selectors.stock import MOST_JOBS

MOST_STOPPED = 10  # named one by one


def start_words(page: Mapping[str, Any]) -> dict[str, str]:
    """Return what a plan can start now, with its numbers, by the field of its form."""
    jobs, orders = len(page["to_start"]), len(page["to_send"])
    count = sum(line["left"] for line in page["to_request"])
    words = {
        "jobs": ngettext("Open %(count)d job", "Open %(count)d jobs", jobs) % {"count": jobs} if jobs else "",
        "orders": ngettext("Write %(count)d shop order", "Write %(count)d shop orders", orders) % {"count": orders}
        if orders
        else "",
        "purchases": ngettext("Request %(count)d instrument", "Request %(count)d instruments", count) % {"count": count}
        if count
        else "",
    }
    return {name: label for name, label in words.items() if label}


def waits_words(rows: Iterable[Instrument]) -> dict[str, str]:
    """Return why work of a plan does not start with it, by number: the instrument is not in storage."""
    words = gettext("It is %(where)s. Start it once it is back.")
    return {row.asset_number: words % {"where": row.get_whereabouts_display().lower()} for row in rows}


def stopped_words(stopped: Mapping[str, str]) -> Iterator[str]:
    """Yield a sentence for each of the first that did not start, and how many more there are."""
    for name, why in list(stopped.items())[:MOST_STOPPED]:
        yield gettext("%(name)s skipped: %(why)s") % {"name": name, "why": why}
    more = len(stopped) - MOST_STOPPED
    if more > 0:
        yield ngettext("%(count)d more was skipped.", "%(count)d more were skipped.", more) % {"count": more}


def started_page(started: StartedSeason) -> dict[str, Any]:
    """What templates/desk/season_started.html shows."""
    jobs, orders, requests = len(started.jobs), len(started.orders), len(started.requests)
    done = []
    if jobs:
        done.append(ngettext("%(count)d job opened", "%(count)d jobs opened", jobs) % {"count": jobs})
    if orders:
        words = ngettext("%(count)d shop order written", "%(count)d shop orders written", orders)
        done.append(words % {"count": orders})
    if requests:
        words = ngettext("%(count)d purchase request filed", "%(count)d purchase requests filed", requests)
        done.append(words % {"count": requests})
    return {
        "title": ", ".join(done),
        "jobs": started.jobs[:FIRST],
        "more_jobs": max(jobs - FIRST, 0),
        "orders": started.orders,
        "to_buy": [
            {
                "bench": bench.name,
                "count": count,
                "url": f"{reverse('repairs:shopping', args=[bench.code])}?jobs={MOST_JOBS}",
            }
            for bench, count in started.to_buy.items()
        ],
        "lines": [request_line(request) for request in started.requests],
    }
