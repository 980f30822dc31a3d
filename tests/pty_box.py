"""A button box that is a pseudo-terminal, for tests that pull it and plug it in again."""

from __future__ import annotations

import os
import pty
import tty
from pathlib import Path


class Box:
    """A button box on a pseudo-terminal behind a fixed path, which can be pulled and plugged."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.plug()

    def plug(self) -> None:
        self._hand, end = pty.openpty()
        tty.setraw(end)
        self.path.unlink(missing_ok=True)
        self.path.symlink_to(os.ttyname(end))
        os.close(end)

    def send(self, data: bytes = b"\x01") -> None:
        os.write(self._hand, data)

    def pull(self) -> None:
        """Its path goes too, as a device's does; its terminal's number may be another's next."""
        self.path.unlink()
        os.close(self._hand)
