"""Asks the system for real-time scheduling and prints what it granted, as JSON."""

from __future__ import annotations

import json

from stimulus.priority import granted

if __name__ == "__main__":
    print(json.dumps({"granted": granted()}))
