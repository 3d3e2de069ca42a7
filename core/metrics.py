"""Counters of requests, for monitoring. No label holds anything that a person typed or is."""

from __future__ import annotations

from typing import Any

from prometheus_client import Counter, Histogram

METHODS = frozenset({"GET", "HEAD", "OPTIONS", "POST", "PUT", "PATCH", "DELETE"})
NO_PAGE = "none"  # an address that no page answers, and the files of the pages

REQUESTS = Counter("hornbook_requests", "Requests answered.", ["view", "method", "status"])
SECONDS = Histogram(
    "hornbook_request_seconds",
    "How long an answer took to make.",
    ["view"],
    buckets=(0.025, 0.05, 0.1, 0.15, 0.25, 0.5, 1, 2.5, 5, 10, 30),
)
FAILED_LOG_INS = Counter("hornbook_failed_log_ins", "Log-ins with a wrong name or password.")
PAUSED_LOG_INS = Counter("hornbook_paused_log_ins", "Log-ins not looked at, because there were too many wrong ones.")


def count_request(*, view: str, method: str, status: int, seconds: float) -> None:
    """``view`` is the name of one of our addresses or "": what a client invents makes no label of its own."""
    shown = view or NO_PAGE
    REQUESTS.labels(shown, method if method in METHODS else "other", str(status)).inc()
    SECONDS.labels(shown).observe(seconds)


def count_failed_log_in(**_kwargs: Any) -> None:
    FAILED_LOG_INS.inc()


def count_paused_log_in() -> None:
    PAUSED_LOG_INS.inc()
