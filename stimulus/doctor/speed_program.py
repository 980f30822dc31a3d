"""Plays simulated exams for a moment and prints how many a second, as JSON."""

from __future__ import annotations

import json
import time

EXAMS = 400
PROTOCOL = "screen-19"


def exams_per_second() -> float:
    """Simulated exams of `PROTOCOL` a second of one core's time, once all is loaded."""
    from analysis.indices.simulated import play
    from analysis.reference import load_reference
    from protocols.library import load_protocol
    from protocols.population.draw import draw_population

    protocol, reference = load_protocol(PROTOCOL), load_reference()
    people = draw_population(EXAMS, 1, protocol.pattern, {"healthy": 1.0})
    play(people, protocol, reference, 1)
    start_s = time.process_time()
    play(people, protocol, reference, 2)
    return EXAMS / (time.process_time() - start_s)


if __name__ == "__main__":
    print(json.dumps({"exams_per_second": exams_per_second()}))
