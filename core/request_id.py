"""The current request's id, for the event log, log lines and error pages."""

from __future__ import annotations

import contextvars
import logging
import re
from collections.abc import Sequence

request_id_var: contextvars.ContextVar[str] = contextvars.ContextVar("request_id", default="")


class RequestIdFilter(logging.Filter):
    """Adds the request's id to a log line; "-" outside a request.

    Django says last of all, when the request's own context has gone, how an answer ended; that line names the request.
    """

    def filter(self, record: logging.LogRecord) -> bool:
        request = getattr(record, "request", None)
        record.request_id = request_id_var.get() or getattr(request, "request_id", "") or "-"
        return True


class OneLineFilter(logging.Filter):
    """Keeps the line about a refused request, the client's error, and leaves out where in the code it was refused."""

    def filter(self, record: logging.LogRecord) -> bool:
        is_refused = record.name == "django.request" and getattr(record, "status_code", 500) < 500
        if is_refused or record.name.startswith("django.security"):
            record.exc_info = record.exc_text = None
        return True


class KeyFilter(logging.Filter):
    """Takes the keys out of a log line: whoever reads an address with one could use it.

    ``addresses`` are those that a key follows, as "/log-in/link/".
    """

    def __init__(self, *, addresses: Sequence[str]) -> None:
        super().__init__()
        self.keys = re.compile(f"({'|'.join(map(re.escape, addresses))})[^/?\\s]+")

    def filter(self, record: logging.LogRecord) -> bool:
        message = record.getMessage()
        without = self.keys.sub(r"\1…", message)
        if without != message:
            record.msg, record.args = without, ()
        return True
