"""Which network an address is of: what one household or one phone may take a new address from at any time."""

from __future__ import annotations

from ipaddress import IPv4Address, IPv6Address, IPv6Network, ip_address
from typing import Final

SITE_PREFIX: Final = 64  # bits that one site holds at the least (RFC 6177, section 2: a site gets a /64 or more)


def _read(address: str) -> IPv4Address | IPv6Address | None:
    try:
        parsed = ip_address(address.strip())
    except ValueError:
        return None
    return (parsed.ipv4_mapped or parsed) if isinstance(parsed, IPv6Address) else parsed


def plain_address(address: str) -> str:
    """Return the address in the one way it is written, and "" for what is no address."""
    return str(_read(address) or "")


def network_of(address: str) -> str:
    """Return an IPv6 address's /64, an IPv4 address as it is, and "" for what is no address."""
    parsed = _read(address)
    if isinstance(parsed, IPv6Address):
        return str(IPv6Network((int(parsed), SITE_PREFIX), strict=False))
    return str(parsed or "")
