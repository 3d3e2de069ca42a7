"""Tries to log in, counted before the password or code is looked at: of many at once, no more pass than may."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.db.models import Q, QuerySet

from core.acts import lock_name, service
from core.caps import KNOWN, NAME_LOOKS_BACK, NETWORK_LOOKS_BACK, STRANGE, Source, Try, paused_until
from core.exceptions import PausedError
from core.models import LogInTry


def take_try(*, source: Source, at: datetime) -> LogInTry:
    """Count a try as a wrong one until it is given back; PausedError if there were too many, and nothing is counted.

    So the right password, too, is not looked at during a pause, and no try then makes it longer.
    """
    taken = _take(source=source, at=at)
    if isinstance(taken, LogInTry):
        return taken
    raise PausedError(taken)


@service
def _take(*, source: Source, at: datetime) -> LogInTry | datetime:
    lock_name("log-in")
    # Tries still to come are of a clock that was set back. They count from now on: no pause ends by it, or lasts on.
    LogInTry.objects.filter(at__gt=at).update(at=at)
    figures = {cap.setting: getattr(settings, cap.setting) for cap in (*KNOWN, *STRANGE)}
    tries = [Try(Source(*columns), moment) for *columns, moment in _beside(source, at=at)]
    until = paused_until(tries, source=source, at=at, settings=figures)
    return until or LogInTry.objects.create(at=at, **source._asdict())


def _beside(source: Source, *, at: datetime) -> QuerySet[LogInTry, tuple[str, str, str, str, datetime]]:
    """The tries that a try from there is counted with."""
    of_name = Q(name=source.name, at__gt=at - NAME_LOOKS_BACK)
    of_network = Q(network=source.network, at__gt=at - NETWORK_LOOKS_BACK)
    rows = LogInTry.objects.filter(of_name if source.device else of_name | of_network, device=source.device)
    return rows.values_list("name", "address", "network", "device", "at")


@service
def give_back(*, taken: LogInTry) -> None:
    """Take a try out of the count: it was right, or nothing was tried."""
    taken.delete()


@service
def clear_tries(*, source: Source) -> None:
    """Reset the count of a name for the device, or the network, on which that person just got in."""
    where = {"device": source.device} if source.device else {"device": "", "network": source.network}
    LogInTry.objects.filter(name=source.name, **where).delete()


@service
def end_pauses() -> int:
    """Delete every try, and return how many there were: nobody has to wait."""
    return LogInTry.objects.all().delete()[0]
