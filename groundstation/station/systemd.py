"""Word to the service manager (sd_notify(3)), where there is one."""

import contextlib
import os
import socket


def notify(state: str) -> None:
    """Send ``state``, such as "READY=1"; does nothing outside systemd."""
    address = os.environ.get("NOTIFY_SOCKET", "")
    if address[:1] not in ("/", "@"):
        return
    if address.startswith("@"):
        address = "\0" + address[1:]
    with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as out:
        out.sendto(state.encode(), address)
