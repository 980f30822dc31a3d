"""Asks the operator at the terminal to do something before light is measured."""

from __future__ import annotations

import sys

from protocols.errors import Interrupted


def ask_to(do: str) -> None:
    """Show what to do and wait for Enter; raises Interrupted at the end of input."""
    print(f"{do} Then press Enter.", file=sys.stderr, flush=True)
    if not sys.stdin.readline():
        raise Interrupted("Stopped by the operator. What was measured is kept.")
