"""The names and addresses under which a tablet may open the bench of this machine.

Names: RFC 6762 (.local), RFC 8375 (.home.arpa), RFC 6761 (localhost); addresses: RFC 1918, RFC 3927, RFC 4193, RFC 4291.

>>> checked_names(["Bench-2.local.", "192.168.14.20"])
['bench-2.local', '192.168.14.20']
"""

from __future__ import annotations

import re
import socket
from collections.abc import Iterable
from ipaddress import IPv4Address, IPv6Address, ip_address, ip_network

import ifaddr

from ...basis.errors import Unreadable
from ...basis.sentences import say

PRIVATE_NETWORKS = ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "127.0.0.0/8", "169.254.0.0/16", "::1/128",
                    "fc00::/7", "fe80::/10")
NAMES_MAX = 100
_LABEL = re.compile(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?\Z")

Address = IPv4Address | IPv6Address


def names_of_this_machine() -> list[str]:
    """Under which names and addresses the bench can be opened in the shop. Asks nobody on the network.

    Returns
    -------
    list of str
        ``name`` (unless ``could_end_a_name``), ``name.local``, ``localhost``, ``127.0.0.1``, ``::1``, then the private
        addresses of the interfaces.
        A public address is left out: the bench is for the shop's own network.
    """
    whole = socket.gethostname().lower().rstrip(".")
    short = whole.partition(".")[0]
    own = [name for name in (whole, short, f"{short}.local") if short != "localhost" and _is_dns(name)]
    out = [name for name in own if not could_end_a_name(name)]
    out += ["localhost", "127.0.0.1", "::1"]
    for text in _addresses():
        address = address_of(text)
        if address is not None and not address.is_loopback and private_address(address):
            out.append(str(address))
    return list(dict.fromkeys(out))


def could_end_a_name(name: str) -> bool:
    """Whether a bare word could be the last part of names in the world outside, as ``com`` is.

    An authority that may vouch for such a word may vouch for every name that ends in it. Those last parts are letters
    alone, or begin with xn-- (RFC 1123, 2.1; RFC 5890), so ``bench-2`` cannot be one. ``localhost`` is nobody's.

    >>> could_end_a_name("dev"), could_end_a_name("bench-2"), could_end_a_name("dev.local")
    (True, False, False)
    """
    return "." not in name and name != "localhost" and (name.isalpha() or name.startswith("xn--"))


def private_address(address: Address) -> bool:
    """Whether an address is of a private network (and not one that only counts with an interface's name)."""
    inside = any(address in ip_network(net) for net in PRIVATE_NETWORKS)
    return inside and not (address.version == 6 and address.is_link_local)


def _addresses() -> list[str]:
    """Addresses of all interfaces as the system tells them, IPv4 first."""
    every = [address for adapter in ifaddr.get_adapters() for address in adapter.ips]
    return [str(one.ip) for one in every if one.is_IPv4] + [one.ip[0] for one in every if one.is_IPv6]


def checked_names(names: Iterable[str]) -> list[str]:
    """DNS names and addresses as they were given, each once and in lower case; raises Unreadable for what cannot be one."""
    out: list[str] = []
    for given in names:
        name = given.strip().lower().rstrip(".")
        address = address_of(name.strip("[]"))
        if address is not None and (address.is_unspecified or address.is_multicast):
            raise Unreadable("names", say("people.address_not_one", address=given[:60]))
        if address is None and not _is_dns(name):
            raise Unreadable("names", say("people.machine_name", name=given[:60]))
        out.append(str(address) if address is not None else name)
    if not out or len(out) > NAMES_MAX:
        raise Unreadable("names", say("people.names_count", n=len(out), most=NAMES_MAX))
    return list(dict.fromkeys(out))


def _is_dns(name: str) -> bool:
    labels = name.split(".")
    return len(name) <= 253 and all(_LABEL.match(label) for label in labels) and not labels[-1].isdigit()


def address_of(text: str) -> Address | None:
    """The address a text stands for; None when it is a name, or counts with an interface only."""
    try:
        address = ip_address(text)
    except ValueError:
        return None
    return None if isinstance(address, IPv6Address) and address.scope_id else address
