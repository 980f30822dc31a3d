"""The pieces on a Dask cluster: its scheduler hands them out, and anew where a worker is lost."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from protocols.errors import InputError, RipplefieldError
from protocols.simulate.chunks import run_piece
from protocols.simulate.workers import AHEAD, Do, Make

PATIENCE_S = 10.0
LIVES = 3
"""How often a piece is sent anew after the scheduler gave it up for losing workers with it."""


class Cluster:
    """A crew on a cluster whose workers have this program installed."""

    def __init__(self, address: str) -> None:
        self._address = address

    def run(
        self, numbers: list[int], make: Make, do: Do = run_piece
    ) -> Iterator[tuple[int, bytes]]:
        """Number and part of each piece; raises InputError if the scheduler cannot be reached."""
        distributed = _distributed()
        client = self._client(distributed)
        try:

            def send(number: int) -> Any:
                return client.submit(do, make(number), pure=False)

            yield from self._flow(distributed, client, list(numbers), send)
        finally:
            client.close()

    def _client(self, distributed: Any) -> Any:
        try:
            return distributed.Client(self._address, timeout=PATIENCE_S, set_as_default=False)
        except (OSError, ValueError) as error:
            raise InputError(
                "--cluster",
                self._address,
                "the address of a running Dask scheduler, such as tcp://10.0.0.5:8786",
                f"Start one with: dask scheduler. It says: {error}".split("\n")[0],
            ) from None

    def _flow(
        self, distributed: Any, client: Any, numbers: list[int], send: Callable[[int], Any]
    ) -> Iterator[tuple[int, bytes]]:
        at_once = AHEAD * max(1, sum(client.nthreads().values()))
        running = {send(number): number for number in numbers[:at_once]}
        waiting = iter(numbers[at_once:])
        finished = distributed.as_completed(running, loop=client.loop, raise_errors=False)
        lives: dict[int, int] = {}
        for future in finished:
            number = running.pop(future)
            following: int | None = number
            if self._lost(distributed, future) and lives.setdefault(number, LIVES):
                lives[number] -= 1
            else:
                yield number, self._part(future)
                following = next(waiting, None)
            if following is not None:
                sent = send(following)
                running[sent] = following
                finished.add(sent)

    @staticmethod
    def _lost(distributed: Any, future: Any) -> bool:
        return future.status == "error" and isinstance(
            future.exception(), distributed.scheduler.KilledWorker
        )

    def _part(self, future: Any) -> bytes:
        if future.status != "finished":
            raise RipplefieldError(
                f"a piece of the work failed on the cluster: {future.exception()}; finished pieces "
                "are kept, the same command goes on"
            )
        part: bytes = future.result()
        return part


def _distributed() -> Any:
    try:
        import distributed
    except ImportError:
        raise InputError(
            "--cluster",
            "no Dask on this machine",
            "the cluster extra",
            "Install it with: pip install 'ripplefield[cluster]'.",
        ) from None
    return distributed
