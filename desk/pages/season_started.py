"""What a season plan would start, and what was started, in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext, ngettext

from desk.pages.purchases import request_line
from desk.selectors.season_started import Started
from repairs.selectors.stock import MOST_JOBS

MOST_STOPPED = 10  # named one by one


def start_words(page: Mapping[str, Any]) -> str:
    """Return what the button of a plan does, with its numbers."""
    jobs = len(page["to_begin"])
    bought = sum(line["count"] for asked in page["to_request"] for line in asked["lines"])
    open_them = ngettext("Open %(count)d job", "Open %(count)d jobs", jobs) % {"count": jobs}
    if not bought:
        return open_them
    if not jobs:
        return ngettext("Request %(count)d instrument", "Request %(count)d instruments", bought) % {"count": bought}
    both = ngettext("%(jobs)s, request %(count)d instrument", "%(jobs)s, request %(count)d instruments", bought)
    return both % {"jobs": open_them, "count": bought}


def stopped_words(stopped: Mapping[str, str]) -> Iterator[str]:
    """Yield a sentence for each of the first that did not start, and how many more there are."""
    for name, why in list(stopped.items())[:MOST_STOPPED]:
        yield gettext("%(name)s left out: %(why)s") % {"name": name, "why": why}
    more = len(stopped) - MOST_STOPPED
    if more > 0:
        yield ngettext("%(count)d more was left out.", "%(count)d more were left out.", more) % {"count": more}


def started_page(started: Started) -> dict[str, Any]:
    """What templates/desk/season_started.html shows."""
    jobs, asked = len(started.jobs), len(started.requests)
    done = []
    if jobs:
        done.append(ngettext("%(count)d job opened", "%(count)d jobs opened", jobs) % {"count": jobs})
    if asked:
        words = ngettext("%(count)d purchase request filed", "%(count)d purchase requests filed", asked)
        done.append(words % {"count": asked})
    return {
        "title": ", ".join(done),
        "jobs": started.jobs,
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
