"""A whole study: pieces to a crew, parts to disk, results at the end."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from protocols.errors import Interrupted
from protocols.simulate.chunks import EXAMS, Piece, Study, piece, pieces
from protocols.simulate.parts import Parts
from protocols.simulate.workers import Crew

Watch = Callable[[int, int], None]
"""Told how many exams are done, of how many."""


def simulate(
    study: Study,
    out: Path,
    crew: Crew,
    facts: Mapping[str, object],
    watch: Watch = lambda done, total: None,
    size: int = EXAMS,
) -> None:
    """Run a study and write its results to `out`, the same bytes whoever did the work.

    `facts` say what the run is, so that only the same run goes on with its parts. Raises
    InputError before anything is run, Interrupted with the finished pieces kept.
    """
    parts, numbers = Parts(out), pieces(study, size)
    parts.open({**facts, "exams": study.exams, "exams_in_a_piece": size})
    left = parts.missing(numbers)

    def make(number: int) -> Piece:
        return piece(study, number, parts.format, size)

    def tell() -> None:
        watch(min((len(numbers) - len(left)) * size, study.exams), study.exams)

    tell()
    try:
        for number, part in crew.run(list(left), make):
            parts.keep(number, part)
            left.remove(number)
            tell()
    except KeyboardInterrupt:
        raise Interrupted(_kept(len(numbers) - len(left), len(numbers), parts)) from None
    parts.finish(numbers)


def _kept(done: int, total: int, parts: Parts) -> str:
    return (
        f"stopped by the operator; {done} of {total} pieces are kept in {parts.folder}; "
        "the same command goes on from there"
    )
