"""Which network an address is of: what one household or one phone may take a new address from at any time."""

from __future__ import annotations

from ipaddress import IPv4Address, IPv6Network, ip_address
from typing import Final

SITE_PREFIX: Final = 64  # bits that one site holds at the least (RFC 6177, section 2: a site gets a /64 or more)


def network_of(address: str) -> str:
    """Return an IPv6 address's /64, an IPv4 address as it is, and "" for what is no address."""
    try:
        parsed = ip_address(address.strip())
    except ValueError:
        return ""
    if isinstance(parsed, IPv4Address):
        return str(parsed)
    if parsed.ipv4_mapped:
        return str(parsed.ipv4_mapped)
    return str(IPv6Network((int(parsed), SITE_PREFIX), strict=False))
