"""A whole pilot's exams: pieces to a crew, finished ones to disk, so that it can go on."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from analysis.piloting.crowd import AS_DRAWN, Crowd, Habit
from analysis.piloting.pieces import Examined, Piece, run_piece, unpacked
from analysis.piloting.plan import PlanFile
from analysis.piloting.variants import Variant
from protocols.errors import InputError, Interrupted
from protocols.folder import require_place
from protocols.population.draw import BLOCK
from protocols.procedures.rows import joined
from protocols.simulate.parts import Kept
from protocols.simulate.workers import Crew

Watch = Callable[[int, int], None]
"""Told how many exams are done, of how many."""


@dataclass(frozen=True)
class Pilot:
    """A plan with its variants and people, ready to run. `plan_text` is the plan's file."""

    plan: PlanFile
    plan_text: str
    plan_name: str
    variants: tuple[Variant, ...]
    crowd: Crowd

    @property
    def habits(self) -> tuple[Habit, ...]:
        """As drawn, then every rate of slips to be tried."""
        asked = self.plan.robustness
        lapses = tuple(Habit("lapses", rate) for rate in asked.lapse_rates)
        return (AS_DRAWN, *lapses, *(Habit("false presses", r) for r in asked.false_press_rates))

    def people_with(self, habit: Habit) -> int:
        """How many people are examined with a habit."""
        return self.plan.people if habit == AS_DRAWN else self.plan.robustness.people

    def repeats_with(self, habit: Habit) -> int:
        """How often each of them is examined."""
        return self.plan.repeats if habit == AS_DRAWN else 1

    def pieces(self) -> list[Piece]:
        """All pieces: variant by variant, habit by habit, block by block."""
        return [
            Piece(
                variant.protocol, self.crowd, block,
                min(BLOCK, self.people_with(habit) - block * BLOCK), habit,
                self.repeats_with(habit),
            )
            for variant in self.variants
            for habit in self.habits
            for block in range(self.blocks_with(habit))
        ]  # fmt: skip

    def blocks_with(self, habit: Habit) -> int:
        """How many blocks of people are examined with a habit."""
        return -(-self.people_with(habit) // BLOCK)


RESULT = "pilot.json"


def require_free(folder: Path) -> Path:
    """A folder that is new, empty, or holds a pilot that was not finished; raises InputError."""
    going_on = Kept(folder / "pilot", "npz").folder.is_dir()
    taken = folder.exists() and not folder.is_dir()
    if taken or (folder.is_dir() and any(folder.iterdir()) and not going_on):
        holds = ", which holds a finished pilot" if (folder / RESULT).is_file() else ""
        raise InputError(
            "--out", f"{folder}{holds}", "a folder that is new, empty, or of a pilot that was "
            "stopped", "Name another folder.",
        )  # fmt: skip
    return require_place(folder)


def run_pilot(
    pilot: Pilot,
    folder: Path,
    crew: Crew,
    facts: Mapping[str, object],
    watch: Watch = lambda done, total: None,
) -> Kept:
    """Examine everybody under every variant; returns the finished pieces.

    `facts` say what the pilot is, so that only the same one goes on with its pieces. Raises
    InputError before anything is run, Interrupted with the finished pieces kept.
    """
    kept, pieces, made = Kept(folder / "pilot", "npz"), pilot.pieces(), not folder.exists()
    kept.open({**facts, "pieces": len(pieces)})
    left = kept.missing(range(len(pieces)))
    exams = [piece.count * piece.repeats for piece in pieces]

    def tell() -> None:
        watch(sum(exams) - sum(exams[number] for number in left), sum(exams))

    tell()
    try:
        for number, part in crew.run(list(left), pieces.__getitem__, run_piece):
            kept.keep(number, part)
            left.remove(number)
            tell()
    except InputError:
        _take_back(kept, folder if made else None, len(left) == len(pieces))
        raise
    except KeyboardInterrupt:
        raise Interrupted(
            f"stopped by the operator; {len(pieces) - len(left)} of {len(pieces)} pieces are kept "
            f"in {kept.folder}; the same command goes on from there"
        ) from None
    return kept


def _take_back(kept: Kept, made: Path | None, nothing_done: bool) -> None:
    """A pilot that could not be begun leaves nothing behind."""
    if nothing_done:
        kept.remove()
        if made is not None:
            made.rmdir()


def examined(pilot: Pilot, kept: Kept) -> Iterator[dict[Habit, Examined]]:
    """The exams of each variant in turn, by habit, from the finished pieces."""
    number = 0
    for _ in pilot.variants:
        found = {}
        for habit in pilot.habits:
            blocks = pilot.blocks_with(habit)
            parts = [unpacked(kept.part(number + block)) for block in range(blocks)]
            found[habit] = joined(parts)
            number += blocks
        yield found
