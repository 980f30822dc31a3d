"""Facts of the trade, as the bundled screenings keep them.

Common practice, no published source, for every row: 17 to 19 peripheral places; a press counts from
100 ms to 1 s after onset; an unseen target comes back a second and a third time at rising contrast,
the last time at full contrast; the best grade is as good as 99 % of people of the same age; one eye
after the other; small targets on the blind spot, 0 % blanks and full-contrast repeats as checks.
"""

from __future__ import annotations

import numpy as np
import pytest
from records import record
from scipy.special import ndtr

from analysis.reference import limits_db, load_reference, mean_db
from protocols.events import EyeLine, Presented
from protocols.journal import read
from protocols.library import load_protocol
from protocols.observer import EyeModel, ObserverFile, Pressing, Seeing

AREA = "Facts of the trade"
SOURCE = "Common practice, no published source"

SCREENS = pytest.mark.parametrize(("name", "places"), [("screen-17", 17), ("screen-19", 19)])
BLIND = ObserverFile(
    format=1,
    about="Invented: sees nothing, presses never.",
    right=EyeModel(centre_db=-20.0),
    seeing=Seeing(1.0, 0.0),
    pressing=Pressing(0.0),
)


@SCREENS
def test_places(truth, name, places):
    truth(f"{name}: places", len(load_protocol(name).pattern.places), places)
    truth.inside(f"{name}: places are few", places, 17, 19)


@SCREENS
def test_answer_window(truth, name, places):
    window = load_protocol(name).settings.answering
    found = (window.accept_from_s, window.accept_until_s)
    truth(f"{name}: seconds from onset that a press counts", found, (0.1, 1.0))


@SCREENS
def test_three_tries_at_rising_contrast_and_the_last_at_full(truth, name, places, tmp_path):
    """A whole exam of somebody who sees nothing: each place three times, weaker to full."""
    record(tmp_path / "e", BLIND, name)
    tries: dict[int, list[float]] = {}
    for entry in read(tmp_path / "e"):
        if isinstance(entry.event, Presented) and entry.event.role == "place":
            tries.setdefault(entry.event.place_number, []).append(entry.event.contrast_nominal)
    assert len(tries) == places
    for contrasts in tries.values():
        assert len(contrasts) == 3
        assert contrasts[0] < contrasts[1] < contrasts[2] == 1.0
    tried = {len(contrasts) for contrasts in tries.values()}
    truth(f"{name}: tries of a place never seen", sorted(tried), [3])
    last = {contrasts[-1] for contrasts in tries.values()}
    truth(f"{name}: contrast of the last try", sorted(last), [1.0])


@SCREENS
def test_the_first_level_is_what_99_per_cent_of_that_age_see(truth, name, places):
    """The share of a normal population of that age above the limit, at every place: 0.99."""
    reference, where = load_reference(), load_protocol(name).pattern.places
    for age in (20, 45, 80):
        above = mean_db(reference, where, age) - limits_db(reference, where, age)
        share = ndtr(above / reference.file.spread_db)
        what = f"{name}: share of people of {age} above the first level, each place"
        truth(what, share, np.full(places, 0.99), 9e-7)


@SCREENS
def test_the_first_level_is_delivered_as_such(name, places, tmp_path):
    """The display's losses are made up for: the light delivered is the limit, to 1e-6 dB."""
    record(tmp_path / "e", "healthy", name)
    limits = limits_db(load_reference(), load_protocol(name).pattern.places, 45)
    for entry in read(tmp_path / "e"):
        if isinstance(entry.event, Presented) and entry.event.role == "place":
            delivered = -20 * np.log10(entry.event.contrast_delivered)
            assert delivered <= limits[entry.event.place_number] + 1e-6
    first = {
        e.event.place_number: -20 * np.log10(e.event.contrast_delivered)
        for e in reversed(list(read(tmp_path / "e")))
        if isinstance(e.event, Presented) and e.event.role == "place"
    }
    assert [first[n] for n in range(places)] == pytest.approx(list(limits), abs=1e-6)


@SCREENS
def test_one_eye_then_the_other(name, places, tmp_path):
    record(tmp_path / "e", "healthy", name, eyes=("right", "left"))
    events = [entry.event for entry in read(tmp_path / "e")]
    assert [e.eye for e in events if isinstance(e, EyeLine)] == ["right", "left"]
    shown = [e.eye for e in events if isinstance(e, Presented)]
    assert shown == sorted(shown, reverse=True)


@SCREENS
def test_checks_are_small_blind_spot_targets_blanks_and_full_contrast(
    truth, name, places, tmp_path
):
    record(tmp_path / "e", "healthy", name)
    shown = [e.event for e in read(tmp_path / "e") if isinstance(e.event, Presented)]
    usual = next(line.area_sr for line in shown if line.role == "place")
    by_role = {role: [line for line in shown if line.role == role] for role in
               ("blind_spot", "blank", "full_contrast")}  # fmt: skip
    fewest = min(len(lines) for lines in by_role.values())
    truth.inside(f"{name}: fewest checks of a kind", fewest, 3, np.inf)
    assert all(line.area_sr < 0.1 * usual for line in by_role["blind_spot"])
    assert {line.contrast_nominal for line in by_role["blank"]} == {0.0}
    assert {line.contrast_nominal for line in by_role["full_contrast"]} == {1.0}
