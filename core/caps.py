"""How many wrong tries to log in pass before the next one waits, and until when.

Whoever has logged in on a device before is counted by that device and name, and by nothing else: what strangers try
from the same school, or at the same name from anywhere, keeps nobody out of their own phone. A stranger is counted by
name and network together, by name, by address and by network, and by how many different names a network tries: one
password tried at every name gets no further than many at one.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final, NamedTuple

QUARTER, HOUR, DAY = timedelta(minutes=15), timedelta(hours=1), timedelta(days=1)


class Source(NamedTuple):
    """Whose name is tried and from where, each as a keyed hash: enough to count by, not enough to find anybody."""

    name: str
    address: str
    network: str
    device: str  # "" for a browser on which nobody of that name has logged in


class Try(NamedTuple):
    source: Source
    at: datetime


@dataclass(frozen=True, slots=True)
class Cap:
    """So many tries that agree in these columns within this time."""

    setting: str
    same: tuple[str, ...]
    within: timedelta
    times: int = 1  # so many times the setting
    counts_names: bool = False  # the different names tried, not the tries

    def waits_until(self, tries: Iterable[Try], *, source: Source, at: datetime, most: int) -> datetime | None:
        """Return when so few tries are within the time again that another may pass; None if it may now."""
        recent = sorted(
            (one for one in tries if one.at > at - self.within and self._is_like(one.source, source)),
            key=lambda one: one.at,
        )
        if self.counts_names:
            recent = sorted({one.source.name: one for one in recent}.values(), key=lambda one: one.at)
        most *= self.times
        return recent[-most].at + self.within if len(recent) >= most else None

    def _is_like(self, one: Source, other: Source) -> bool:
        return all(getattr(one, column) == getattr(other, column) for column in self.same)


# What is aimed at one name may be tried four times as often in a day as at once: who goes on waits longer. A place that
# many share has no such cap, or one hour of nonsense would close it to every new phone for a day.
KNOWN: Final = (
    Cap("LOG_IN_TRIES", ("device", "name"), QUARTER),
    Cap("LOG_IN_TRIES", ("device", "name"), DAY, times=4),
)
STRANGE: Final = (
    Cap("LOG_IN_TRIES", ("name", "network"), QUARTER),
    Cap("LOG_IN_TRIES", ("name", "network"), DAY, times=4),
    Cap("LOG_IN_TRIES_PER_NAME", ("name",), HOUR),
    Cap("LOG_IN_TRIES_PER_NAME", ("name",), DAY, times=4),
    Cap("LOG_IN_TRIES_PER_ADDRESS", ("address",), QUARTER),
    Cap("LOG_IN_TRIES_PER_NETWORK", ("network",), HOUR),
    Cap("LOG_IN_NAMES_PER_NETWORK", ("network",), HOUR, counts_names=True),
)
NAME_LOOKS_BACK, NETWORK_LOOKS_BACK = DAY, HOUR


def paused_until(
    tries: Collection[Try], *, source: Source, at: datetime, settings: Mapping[str, int]
) -> datetime | None:
    """Return until when another try from there waits; None if it may pass. ``tries`` are its device's, or strangers'."""
    ends = (
        cap.waits_until(tries, source=source, at=at, most=settings[cap.setting])
        for cap in (KNOWN if source.device else STRANGE)
    )
    return max((end for end in ends if end is not None), default=None)
