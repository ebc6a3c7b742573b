"""Hosts of their own on this machine: network namespaces on one switch, with cables to cut."""

import subprocess
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass

import pytest

SWITCH = "sc-switch"
HERE = "10.77.0.1"
"""This process's own address on the switch."""


def ip(*arguments: str) -> int:
    done = subprocess.run(["ip", *arguments], check=False, capture_output=True)
    return done.returncode


@dataclass(frozen=True, slots=True)
class Host:
    """A network namespace with one cable to the switch."""

    name: str
    address: str

    @property
    def inside(self) -> list[str]:
        """Command in front of one that shall run there."""
        return ["ip", "netns", "exec", self.name]

    def cut(self) -> None:
        """Pull the cable: nothing arrives, and nobody is told."""
        assert ip("link", "set", f"{self.name}-c", "down") == 0

    def mend(self) -> None:
        assert ip("link", "set", f"{self.name}-c", "up") == 0


@contextmanager
def hosts(n: int) -> Iterator[list[Host]]:
    """So many hosts; this process is on the same switch. Skips where namespaces are forbidden."""
    with ExitStack() as stack:
        if ip("link", "add", SWITCH, "type", "bridge"):
            pytest.skip("needs the right to make network namespaces")
        stack.callback(ip, "link", "del", SWITCH)
        made = []
        assert ip("addr", "add", f"{HERE}/24", "dev", SWITCH) == 0
        assert ip("link", "set", SWITCH, "up") == 0
        for number in range(n):
            host = Host(f"sc-{number}", f"10.77.0.{number + 2}")
            assert ip("netns", "add", host.name) == 0
            stack.callback(ip, "netns", "del", host.name)
            cable = f"{host.name}-c"
            end = ["type", "veth", "peer", "name", "eth0", "netns", host.name]
            assert ip("link", "add", cable, *end) == 0
            stack.callback(ip, "link", "del", cable)
            assert ip("link", "set", cable, "master", SWITCH, "up") == 0
            within = ["-n", host.name]
            assert ip(*within, "addr", "add", f"{host.address}/24", "dev", "eth0") == 0
            assert ip(*within, "link", "set", "eth0", "up") == 0
            assert ip(*within, "link", "set", "lo", "up") == 0
            made.append(host)
        yield made
