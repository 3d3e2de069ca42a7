"""Which network an address is of."""

from __future__ import annotations

import pytest

from core.networks import network_of, plain_address


@pytest.mark.parametrize(
    ("address", "network"),
    [
        ("192.0.2.7", "192.0.2.7"),
        (" 192.0.2.7 ", "192.0.2.7"),
        ("::ffff:192.0.2.7", "192.0.2.7"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("::1", "::/64"),
        ("fe80::1%eth0", "fe80::/64"),
        ("", ""),
        ("nowhere", ""),
    ],
)
def test_an_address_is_of_one_network(address, network):
    """Addresses for documentation: RFC 5737 and RFC 3849; mapped ones: RFC 4291, section 2.5.5.2."""
    assert network_of(address) == network


@pytest.mark.parametrize(
    ("address", "plain"),
    [
        (" 192.0.2.7 ", "192.0.2.7"),
        ("::ffff:192.0.2.7", "192.0.2.7"),
        ("2001:DB8:0:0::7", "2001:db8::7"),
        ("", ""),
        ("nowhere", ""),
        ("unix:", ""),
        ("9" * 100_000, ""),
    ],
)
def test_an_address_is_written_in_one_way(address, plain):
    assert plain_address(address) == plain
