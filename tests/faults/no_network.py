"""Runs a Python module or a piece of code in a process that may not open a socket.

    python no_network.py -m handsfree rehearse …
    python no_network.py -c "import socket; socket.socket()"

On Linux the kernel ends this process, or any that it starts, at the first call of socket(2), so
that native libraries are caught, too.  Elsewhere an audit hook does it, for Python code alone.
"""

from __future__ import annotations

import ctypes
import os
import platform
import runpy
import struct
import sys

_CALLS = {"x86_64": (0xC000003E, 41), "aarch64": (0xC00000B7, 198)}
"""Machine to its AUDIT_ARCH and its number of socket(2): linux/audit.h, asm/unistd.h."""

_KILL, _ALLOW = 0x80000000, 0x7FFF0000


def forbid_sockets() -> str:
    """Returns how it is forbidden: "kernel" or "audit hook"."""
    if sys.platform == "linux" and platform.machine() in _CALLS:
        _filter(*_CALLS[platform.machine()])
        return "kernel"

    def hook(event: str, _: object) -> None:
        if event in ("socket.__new__", "socket.connect", "socket.getaddrinfo"):
            os._exit(77)

    sys.addaudithook(hook)
    return "audit hook"


def _filter(machine: int, call: int) -> None:
    """A classic BPF program: seccomp_data holds the call's number at 0, the machine at 4."""
    load, equal, give = 0x20, 0x15, 0x06
    program = b"".join(struct.pack("HBBI", *line) for line in (
        (load, 0, 0, 4), (equal, 0, 3, machine),
        (load, 0, 0, 0), (equal, 0, 1, call),
        (give, 0, 0, _KILL), (give, 0, 0, _ALLOW)))
    code = ctypes.create_string_buffer(program, len(program))
    head = ctypes.create_string_buffer(
        struct.pack("HxxxxxxP", len(program) // 8, ctypes.addressof(code)))
    libc = ctypes.CDLL(None, use_errno=True)
    no_new_privileges, set_filter = 38, 22
    if libc.prctl(no_new_privileges, 1, 0, 0, 0) or libc.prctl(set_filter, 2, head, 0, 0):
        raise OSError(ctypes.get_errno(), "the filter is refused")


if __name__ == "__main__":
    forbid_sockets()
    kind, what, *rest = sys.argv[1:]
    sys.argv = [what, *rest]
    if kind == "-m":
        runpy.run_module(what, run_name="__main__", alter_sys=True)
    else:
        exec(what)
