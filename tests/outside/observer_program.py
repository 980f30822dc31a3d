"""An invented participant: watches a virtual screen and presses a button when something flickers.

A program of its own. It imports nothing from the project and knows nothing of protocols, places or
levels: it sees the pixels that `Xvfb -fbdir DIR` keeps in a file, and has a button box. So whatever
an exam says about this participant went through real light (pixels), real time and a real port.

    python observer_program.py --screen DIR/Xvfb_screen0 --config FILE.json --log FILE.jsonl
        [--make-button LINK | --press-path DEVICE | --press-fd N] [--seconds S]

`--make-button` makes a pseudo-terminal and puts its name at LINK: give `serial:LINK` to the program
under test. Ends on SIGTERM, SIGINT, after S seconds, or when the screen's file goes.

The config holds the keys of `Rules`, all optional. The log has one JSON object a line, by `kind`:

- `watching`: `t_s, width_px, height_px` (the button exists from here on)
- `background`: `t_s, code` (a new still picture was learnt; its commonest code, 0..255)
- `flicker`: `unseen_until_s, first_seen_s, last_seen_s, x_px, y_px, extent_px, changed_px,
  peak_code, changes, verdict, press_s`; written once it is over. `unseen_until_s` is when the last
  look without it began: it came between that and `first_seen_s`, however seldom the looks
- `press`: `t_s` (just before the byte is written)
- `closed`: `t_s, looks, looks_per_s, cpu_share`

Times are `time.perf_counter()`, one clock for all programs of a Linux machine. Pixels count from
the top left corner; where and how strong is null for what was too large to be a target. A verdict
is `pressed`, `blind`, `small`, `large`, `static`, or `unfinished` if the program ended first.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import pty
import signal
import time
import tty
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from observer_sight import CELL, STEP, Image, Picture, Screen, Spot, around, extent, largest_region

clock = time.perf_counter
FACTS = ("x_px", "y_px", "extent_px", "changed_px", "peak_code")


@dataclass(frozen=True)
class Rules:
    """How this participant sees and presses."""

    blind: tuple[Spot, ...] = ()  # flicker centred in one of these is never seen
    fixation: Spot | None = None  # changes in here are ignored; centre, 10 px unless given
    small_extent_px: float = 0.0  # smaller regions are not seen
    large_extent_px: float = 300.0  # larger ones are pages of text, not targets
    reaction_s: float = 0.350  # from first seen to the press
    jitter_s: float = 0.030  # plus or minus, uniform
    seed: int = 1
    min_pixels: int = 12  # of those looked at in a glance
    min_changes: int = 3  # pictures that differ, before it counts as flicker
    stable_s: float = 0.3  # a still picture this old is the new background
    quiet_s: float = 0.15  # a flicker that was absent this long is over
    looks_per_s: float = 250.0


def read_rules(text: str) -> Rules:
    """Rules from JSON; an unknown key is a TypeError."""
    given = json.loads(text)
    given["blind"] = tuple(Spot(**spot) for spot in given.get("blind", []))
    if "fixation" in given:
        given["fixation"] = Spot(**given["fixation"])
    return Rules(**given)


class Flicker:
    """Something that differs from the background, from first seen until it is over."""

    def __init__(self, screen: Screen, unseen_s: float, now_s: float, due_s: float) -> None:
        self._screen = screen
        self.unseen_s = unseen_s
        self._peak = np.zeros((screen.height, screen.width), np.uint8)
        self.first_s = self.last_s = now_s
        self.due_s = due_s
        self.changes = 0
        self.is_large = False
        self.verdict: str | None = None
        self.press_s: float | None = None

    def add(self, picture: Picture, changed: Image, rules: Rules) -> None:
        """Take in one more picture that differs."""
        self.changes += 1
        region = largest_region(changed, CELL // STEP)
        if self.is_large or extent(region) * STEP > rules.large_extent_px:
            self.is_large = True
            return
        box = around(region)
        found = picture.difference(self._screen.pixels, box)
        self._peak[box] = np.maximum(self._peak[box], found)

    def facts(self) -> dict[str, float | None]:
        """Where, how large and how strong it was so far; None for what was never a region."""
        if not self._peak.any():
            return dict.fromkeys(FACTS)
        region = largest_region(self._peak > 0, CELL)
        rows, columns = np.nonzero(region)
        x_px, y_px = round(float(columns.mean()), 2), round(float(rows.mean()), 2)
        values = (x_px, y_px, extent(region), len(rows), int(self._peak[region].max()))
        return dict(zip(FACTS, values, strict=True))

    def judge(self, rules: Rules) -> str:
        """What this participant makes of it."""
        if self.changes < rules.min_changes:
            return "static"
        if self.is_large:
            return "large"
        x_px, y_px, extent_px, _, peak_code = (value or 0.0 for value in self.facts().values())
        if extent_px < rules.small_extent_px:
            return "small"
        hiding = [spot for spot in rules.blind if spot.holds(x_px, y_px)]
        return "blind" if any(peak_code < spot.until_code for spot in hiding) else "pressed"


class Participant:
    """Looks, waits a reaction time, and presses or not. `tell` writes the log."""

    def __init__(
        self,
        screen: Screen,
        rules: Rules,
        press: Callable[[], object],
        tell: Callable[..., None],
    ) -> None:
        self._screen, self._rules, self._press, self._tell = screen, rules, press, tell
        self._ignored = rules.fixation or Spot(screen.width / 2, screen.height / 2, 10)
        self._random = np.random.default_rng(rules.seed)
        self._glance = screen.glance()
        self._new_since_s = self._looked_s = clock()
        self._picture: Picture | None = None
        self._flicker: Flicker | None = None
        self._differs = False

    def look(self) -> None:
        """One look at the screen, and whatever is due."""
        now_s, glance = clock(), self._screen.glance()
        if not np.array_equal(glance, self._glance):
            self._glance, self._new_since_s = glance, now_s
            self._see_new(now_s)
        elif now_s - self._new_since_s > self._rules.stable_s:
            self._learn(now_s)
        if self._flicker is not None:
            self._go_on(self._flicker, now_s)
        self._looked_s = now_s

    def _learn(self, now_s: float) -> None:
        known = self._picture
        if known is not None and np.array_equal(known.glance, self._glance):
            return
        self._picture = Picture(self._screen, self._glance, self._ignored)
        self._differs = False
        self._tell("background", t_s=now_s, code=self._picture.code())

    def _see_new(self, now_s: float) -> None:
        if self._picture is None:
            return
        changed = self._picture.changed(self._glance)
        self._differs = bool(np.count_nonzero(changed) >= self._rules.min_pixels)
        if not self._differs:
            return
        if self._flicker is None:
            due_s = now_s + self._reaction_s()
            self._flicker = Flicker(self._screen, self._looked_s, now_s, due_s)
        self._flicker.add(self._picture, changed, self._rules)

    def _reaction_s(self) -> float:
        spread = self._random.uniform(-1, 1) * self._rules.jitter_s
        return float(self._rules.reaction_s + spread)

    def _go_on(self, flicker: Flicker, now_s: float) -> None:
        if self._differs:
            flicker.last_s = now_s
        if flicker.verdict is None and now_s >= flicker.due_s:
            self._decide(flicker)
        if flicker.verdict is not None and now_s - flicker.last_s > self._rules.quiet_s:
            self._finish(flicker)

    def _decide(self, flicker: Flicker) -> None:
        flicker.verdict = flicker.judge(self._rules)
        if flicker.verdict == "pressed":
            flicker.press_s = clock()
            self._press()
            self._tell("press", t_s=flicker.press_s)

    def _finish(self, flicker: Flicker) -> None:
        self._flicker = None
        self._tell(
            "flicker",
            unseen_until_s=flicker.unseen_s,
            first_seen_s=flicker.first_s,
            last_seen_s=flicker.last_s,
            **flicker.facts(),
            changes=flicker.changes,
            verdict=flicker.verdict,
            press_s=flicker.press_s,
        )

    def close(self) -> None:
        """Report what is still going on."""
        if self._flicker is not None:
            self._flicker.verdict = self._flicker.verdict or "unfinished"
            self._finish(self._flicker)


@contextlib.contextmanager
def hand(options: argparse.Namespace) -> Iterator[Callable[[], object]]:
    """A function that presses the button: one byte."""
    if options.make_button is not None:
        with made_button(options.make_button) as fd:
            yield lambda: os.write(fd, b"\x01")
    elif options.press_path is not None:
        fd = os.open(options.press_path, os.O_WRONLY | os.O_NOCTTY)
        yield lambda: os.write(fd, b"\x01")
        os.close(fd)
    elif options.press_fd is not None:
        yield lambda: os.write(options.press_fd, b"\x01")
    else:
        yield lambda: None


@contextlib.contextmanager
def made_button(link: Path) -> Iterator[int]:
    """The inner end of a new pseudo-terminal whose outer end is found at `link`."""
    inner, outer = pty.openpty()
    tty.setraw(outer)
    link.unlink(missing_ok=True)
    link.symlink_to(os.ttyname(outer))
    yield inner
    link.unlink(missing_ok=True)
    os.close(outer)
    os.close(inner)


def watch(participant: Participant, looks_per_s: float, wanted: Callable[[], bool]) -> int:
    """Look at a steady rate while wanted; how many looks it was."""
    due_s, looks = clock(), 0
    while wanted():
        participant.look()
        looks += 1
        due_s = max(due_s + 1 / looks_per_s, clock())
        time.sleep(max(0.0, due_s - clock()))
    return looks


def wait_for(path: Path, patience_s: float = 20.0) -> None:
    end_s = clock() + patience_s
    while not path.exists() or not path.read_bytes()[:4].strip(b"\0"):
        if clock() > end_s:
            raise SystemExit(f"{path}: no screen there; start Xvfb with -fbdir {path.parent}")
        time.sleep(0.02)


def read_options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Watches a virtual screen and presses a button.")
    parser.add_argument("--screen", type=Path, required=True)
    parser.add_argument("--log", type=Path, required=True)
    parser.add_argument("--config", type=Path)
    button = parser.add_mutually_exclusive_group()
    button.add_argument("--make-button", type=Path)
    button.add_argument("--press-path")
    button.add_argument("--press-fd", type=int)
    parser.add_argument("--seconds", type=float, default=float("inf"))
    return parser.parse_args()


def main() -> None:
    options = read_options()
    rules = read_rules(options.config.read_text() if options.config else "{}")
    stops: deque[int] = deque()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda signum, _: stops.append(signum))
    wait_for(options.screen)
    with options.log.open("w", buffering=1) as log, hand(options) as press:

        def tell(kind: str, **data: object) -> None:
            log.write(json.dumps({"kind": kind, **data}) + "\n")

        screen, start_s, start_cpu_s = Screen(options.screen), clock(), time.process_time()
        participant = Participant(screen, rules, press, tell)
        tell("watching", t_s=start_s, width_px=screen.width, height_px=screen.height)
        end_s = start_s + options.seconds
        looks = watch(
            participant,
            rules.looks_per_s,
            lambda: not stops and clock() < end_s and options.screen.exists(),
        )
        participant.close()
        spent_s = clock() - start_s
        tell(
            "closed",
            t_s=clock(),
            looks=looks,
            looks_per_s=round(looks / spent_s, 1),
            cpu_share=round((time.process_time() - start_cpu_s) / spent_s, 3),
        )


if __name__ == "__main__":
    main()
