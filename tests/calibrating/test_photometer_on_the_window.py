"""Gamma through a real window, a real port and a meter that sees what is on the display."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
from bench_rigs import WINDOW, command, watching_meter

from calibration.certificate import read_certificate
from calibration.simulated import load_simulated
from calibration.transfer import Transfer
from stimulus.cli import run

BEFORE_PULLED = 120


def gamma_words(spec: str) -> list[str]:
    words = f"calibrate gamma --out cert.json --windowed {WINDOW} --settle 0 --photometer {spec}"
    return words.split()


def test_unplugged_in_the_middle_then_resumed_recovers_the_displays_light(display, tmp_path):
    """One measurement in two goes; the truth is the simulated display's own formula."""
    with watching_meter(tmp_path, BEFORE_PULLED) as meter:
        pulled = command(gamma_words(meter.spec), tmp_path)
    assert pulled.returncode == 1, pulled.stderr
    said = pulled.stderr.splitlines()[-1]
    assert re.fullmatch(
        rf"error: The instrument on serial:{tmp_path}/meter is gone. {BEFORE_PULLED} of \d+ "
        "readings are kept in cert.json.readings.jsonl: the same command measures the rest. "
        "Plug it in again first.",
        said,
    ), said
    assert not (tmp_path / "cert.json").exists()
    kept = (tmp_path / "cert.json.readings.jsonl").read_bytes()
    assert len(kept.splitlines()) == BEFORE_PULLED + 1
    with watching_meter(tmp_path) as meter:
        done = command(gamma_words(meter.spec), tmp_path)
    assert done.returncode == 0, done.stderr
    assert not (tmp_path / "cert.json.readings.jsonl").exists()
    check_light(tmp_path, [json.loads(line) for line in kept.splitlines()[1:]])


def check_light(folder: Path, first: list[dict[str, float]]) -> None:
    part = read_certificate(folder / "cert.json").gamma
    truth = load_simulated(folder / "screen.toml")
    assert part is not None
    took_over = [(line.channel, line.code, line.cd_m2) for line in part.readings[: len(first)]]
    assert took_over == [(line["channel"], line["code"], line["cd_m2"]) for line in first]
    codes = np.arange(256)
    light = np.array([truth.channel_cd_m2(c, codes) for c in range(3)])
    rise = (light - light[:, :1]) / (light[:, -1:] - light[:, :1])
    table = Transfer(np.array(part.relative_table), "certificate").luminance
    found = (table - table[:, :1]) / (1 - table[:, :1])
    off = float(np.max(np.abs(found - rise)))
    print(f"{len(part.readings)} readings; largest departure {100 * off:.3f} % of the maximum")
    assert off < 0.005
    peak = float(truth.cd_m2([255, 255, 255]))
    assert abs(part.peak_cd_m2.value - peak) < 0.005 * peak
    exponents = [fit.parameters["gamma"] for fit in part.fits if fit.chosen == "power"]
    print("exponents", [round(one, 3) for one in exponents], "of", truth.file.gamma)
    assert np.allclose(exponents, truth.file.gamma, atol=0.05)


def test_readings_of_another_meter_are_not_mixed_in(display, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    with watching_meter(tmp_path, 3) as meter:
        assert run(gamma_words(meter.spec)) == 1
    kept = (tmp_path / "cert.json.readings.jsonl").read_bytes()
    capsys.readouterr()
    with watching_meter(tmp_path) as meter:
        assert run([*gamma_words(meter.spec), "--meter-serial", "BM-7"]) == 2
    assert capsys.readouterr().err.splitlines()[-1] == (
        'error: cert.json.readings.jsonl, instrument.serial: got "BM-0042"; allowed: BM-7, as now. '
        "Name another log to measure anew, or go on as this one was begun."
    )
    assert (tmp_path / "cert.json.readings.jsonl").read_bytes() == kept
