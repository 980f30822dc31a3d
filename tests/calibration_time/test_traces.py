"""Reading photodiode traces: tables and audio files, and everything that makes one unfit."""

from __future__ import annotations

import wave
from pathlib import Path

import numpy as np
import pytest
from made_traces import words
from scipy.io import wavfile

from calibration.edges import find_edges
from calibration.traces import Trace, read_trace, refuse_slow_sampling, sampled_trace

N = 4800


@pytest.fixture
def light() -> np.ndarray:
    """A noisy square wave between 0.2 and 0.8, 10 cycles a second at 48 kHz."""
    t = np.arange(N) / 48000
    rng = np.random.default_rng(1)
    return 0.2 + 0.6 * (np.sin(2 * np.pi * 100 * t) > 0) + 0.01 * rng.standard_normal(N)


def table(path: Path, header: str, *columns: np.ndarray) -> Path:
    rows = [",".join(f"{v:.9g}" for v in row) for row in zip(*columns, strict=True)]
    path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    return path


def audio24(path: Path, channels: np.ndarray, rate_hz: int = 48000) -> Path:
    """A 24-bit file made with the standard library, apart from the reader's own library."""
    whole = np.round(channels * (2**23 - 1)).astype("<i4").reshape(len(channels), -1)
    with wave.open(str(path), "wb") as file:
        file.setnchannels(whole.shape[1])
        file.setsampwidth(3)
        file.setframerate(rate_hz)
        file.writeframes(whole.view("u1").reshape(*whole.shape, 4)[..., :3].tobytes())
    return path


def test_a_table_with_times_gives_its_rate(tmp_path, light):
    path = table(tmp_path / "t.csv", "time_s,value", 3 + np.arange(N) / 48000, light)
    trace = read_trace(path, dark_value=0.1)
    assert trace.rate_hz == pytest.approx(48000, rel=1e-6)
    assert np.allclose(trace.value, light, atol=1e-8)
    assert (trace.ac_coupled, trace.dark_value) == (False, 0.1)
    assert trace.time_s[-1] == pytest.approx((N - 1) / 48000)
    assert trace.seconds == pytest.approx(0.1)


def test_times_rounded_to_a_microsecond_still_give_the_rate(tmp_path, light):
    t = np.round(np.arange(N) / 48000, 6)
    path = table(tmp_path / "t.csv", "value,time_s", light, t)
    assert read_trace(path).rate_hz == pytest.approx(48000, rel=1e-4)


def test_a_table_of_values_takes_the_stated_rate(tmp_path, light):
    path = table(tmp_path / "t.csv", "value", light)
    assert read_trace(path, rate_hz=48000).rate_hz == 48000
    assert words(lambda: read_trace(path)) == (
        f"{path}, sampling rate in Hz: got nothing; allowed: a number above 0. "
        "State the rate, or add a time_s column."
    )


@pytest.mark.parametrize(("kind", "scale"), [("int16", 2**15), ("int32", 2**31), ("float32", 1)])
def test_audio_of_16_and_32_bits_is_shares_of_full_scale(tmp_path, light, kind, scale):
    path = tmp_path / "t.wav"
    wavfile.write(path, 48000, (light * scale).astype(kind))
    trace = read_trace(path)
    assert np.max(np.abs(trace.value - light)) < 1 / 2**15
    assert (trace.rate_hz, trace.ac_coupled) == (48000, True)


def test_audio_of_24_bits_and_a_named_channel(tmp_path, light):
    path = audio24(tmp_path / "t.wav", np.stack([-light, light], axis=1))
    for name in ("right", "2"):
        assert np.max(np.abs(read_trace(path, channel=name).value - light)) < 1 / 2**22
    assert np.max(np.abs(read_trace(path, channel="left").value + light)) < 1 / 2**22


def test_two_channels_without_a_name_are_refused(tmp_path, light):
    path = audio24(tmp_path / "t.wav", np.stack([light, light], axis=1))
    assert words(lambda: read_trace(path)) == (
        f'{path}, channel: got nothing; allowed: left, right, 1, 2. '
        "Name the channel the photodiode is on."
    )
    assert words(lambda: read_trace(path, channel="3")) == (
        f'{path}, channel: got "3"; allowed: left, right, 1, 2. '
        "Name the channel the photodiode is on."
    )


def test_eight_bits_are_refused(tmp_path, light):
    path = tmp_path / "t.wav"
    wavfile.write(path, 48000, (light * 200).astype("uint8"))
    assert words(lambda: read_trace(path)) == (
        f'{path}, samples: got "uint8"; allowed: 16, 24 or 32 bits. '
        "Record it again with 16 bits or more."
    )


def test_an_empty_audio_file_is_refused(tmp_path):
    path = tmp_path / "t.wav"
    wavfile.write(path, 48000, np.zeros(0, "int16"))
    assert words(lambda: read_trace(path)) == (
        f'{path}: got "an empty trace"; allowed: samples. Record it again.'
    )


def test_what_is_no_audio_file_is_refused(tmp_path):
    path = tmp_path / "t.wav"
    path.write_bytes(b"not sound at all, just text " * 20)
    said = words(lambda: read_trace(path))
    assert said.startswith(f"{path}: got \"File format b'not ' not understood")
    assert said.endswith("allowed: a WAV file of plain samples. Record it again as WAV.")


@pytest.mark.parametrize("ending", ["csv", "wav"])
def test_a_missing_file_is_refused(tmp_path, ending):
    path = tmp_path / f"none.{ending}"
    assert words(lambda: read_trace(path)) == (
        f'trace: got "{path}"; allowed: a file that exists. Check the path.'
    )


def test_another_ending_is_refused(tmp_path):
    path = tmp_path / "t.txt"
    assert words(lambda: read_trace(path)) == (
        f'trace: got "{path}"; allowed: a file ending in .csv or .wav. Convert it to one.'
    )


@pytest.mark.parametrize("text", ["", "\n\n", "time_s,value\n"])
def test_an_empty_table_is_refused(tmp_path, text):
    path = tmp_path / "t.csv"
    path.write_text(text)
    assert words(lambda: read_trace(path)) == (
        f'{path}: got "an empty trace"; allowed: a header and rows. Record it again.'
    )


def test_another_header_is_refused(tmp_path):
    path = tmp_path / "t.csv"
    path.write_text("t,v\n0,1\n")
    assert words(lambda: read_trace(path)) == (
        f'{path}, header: got "t,v"; allowed: time_s,value or value. '
        "Name the columns so in the first line."
    )


@pytest.mark.parametrize("row", ["0.1,nan", "0.1,inf", "0.1,bright", "0.1", "0.1,2,3", "0.1,"])
def test_a_row_that_is_no_pair_of_numbers_is_refused(tmp_path, row):
    path = tmp_path / "t.csv"
    path.write_text(f"time_s,value\n0,1\n{row}\n")
    assert words(lambda: read_trace(path)) == (
        f'{path}, row 3: got "{row}"; allowed: 2 finite numbers. '
        "Mend the row or record the trace again."
    )


def test_too_short_a_trace_is_refused(tmp_path, light):
    path = table(tmp_path / "t.csv", "value", light[:199])
    assert words(lambda: read_trace(path, 48000)) == (
        f"{path}, number of samples: got 199; allowed: 200 or more. Record it for longer."
    )


def test_audio_that_holds_no_numbers_is_refused(tmp_path, light):
    path, samples = tmp_path / "t.wav", light.astype("float32")
    samples[9] = np.nan
    wavfile.write(path, 48000, samples)
    assert words(lambda: read_trace(path)) == (
        f'{path}: got "a value that is no number"; allowed: numbers only. Record it again.'
    )


def test_uneven_sampling_is_refused(tmp_path, light):
    t = np.arange(N) / 48000
    t[2000] += 0.6 / 48000
    path = table(tmp_path / "t.csv", "time_s,value", t, light)
    assert words(lambda: read_trace(path)) == (
        f'{path}, time_s, row 2002: got "0.6 steps from its even place"; allowed: up to 0.25. '
        "Record at a constant rate, or resample the trace."
    )


def test_times_that_go_back_are_refused(tmp_path, light):
    path = table(tmp_path / "t.csv", "time_s,value", -np.arange(N) / 48000, light)
    assert words(lambda: read_trace(path)) == (
        f'{path}, time_s: got "times that go back"; allowed: rising times. Sort it.'
    )


def test_a_table_flat_at_its_top_is_refused(tmp_path, light):
    path = table(tmp_path / "t.csv", "value", np.minimum(light, 0.75))
    assert words(lambda: read_trace(path, 48000)) == (
        f'{path}: got "0.75, the highest value, 8 times or more in a row"; allowed: a trace that '
        "is not clipped. Turn the gain down and record again; or state the recorder's full scale, "
        "so that a level held can be told from a clipped one."
    )


def test_a_table_flat_at_its_bottom_is_refused(tmp_path, light):
    path = table(tmp_path / "t.csv", "value", np.maximum(light, 0.25))
    assert '"0.25, the lowest value, 8 times' in words(lambda: read_trace(path, 48000))


def test_a_held_level_inside_the_stated_full_scale_is_no_clipping(tmp_path, light):
    path = table(tmp_path / "t.csv", "value", np.minimum(light, 0.75))
    assert len(read_trace(path, 48000, full_scale=(0.0, 1.0)).value) == N
    assert words(lambda: read_trace(path, 48000, full_scale=(0.0, 0.75))) == (
        f'{path}: got "2400 of 4800 samples at the end of the range 0 to 0.75"; allowed: a trace '
        "that is not clipped. Turn the gain or the light down and record again."
    ).replace("2400", str(int(np.sum(light >= 0.75 - 0.375e-3))))


def test_clipped_audio_is_refused(tmp_path, light):
    path = tmp_path / "t.wav"
    wavfile.write(path, 48000, (np.clip(light * 1.2, -1, 32767 / 32768) * 32768).astype("int16"))
    unclipped = tmp_path / "u.wav"
    wavfile.write(unclipped, 48000, (light * 32768).astype("int16"))
    assert len(read_trace(unclipped).value) == N
    assert words(lambda: wav_top(path)).endswith(
        "Turn the gain or the light down and record again."
    )


def wav_top(path: Path) -> Trace:
    rate, samples = wavfile.read(path)
    wavfile.write(path, rate, np.where(samples > 31000, 32767, samples).astype("int16"))
    return read_trace(path)


def test_sampling_too_slow_for_the_flicker_is_refused_with_the_rate_needed():
    trace = Trace(np.zeros(1000), 3999.0, "t.csv")
    assert words(lambda: refuse_slow_sampling(trace, 20.0)) == (
        "t.csv, sampling rate in Hz: got 3999; allowed: 4000 or more for flicker at 20 Hz. "
        "Record the trace again with more samples a second."
    )
    refuse_slow_sampling(Trace(np.zeros(1000), 4000.0, "t.csv"), 20.0)


def test_200_samples_a_cycle_keep_the_fold_of_an_instant_panel_within_half_a_percent():
    """The reason for the limit: sampling a held cosine at 200 a cycle against the exact value."""
    from calibration.fourier import fundamental
    from protocols.grating import frame_hold

    wave3 = np.repeat(np.tile(np.cos(2 * np.pi * np.arange(4) / 4), 30), 50)
    found = abs(fundamental(wave3, 4000.0, 20.0))
    assert found == pytest.approx(frame_hold(20.0, 80.0), rel=0.005)


def test_a_trace_from_an_instrument_is_checked_too(light):
    t = np.arange(N) / 48000
    trace = sampled_trace(t, light, "photodiode", dark_value=0.1)
    assert (trace.rate_hz, trace.dark_value) == (pytest.approx(48000), 0.1)
    assert words(lambda: sampled_trace(t[:-1], light, "photodiode")) == (
        'photodiode: got "shapes (4799,) and (4800,)"; allowed: a time for each value. '
        "Record the trace again."
    )
    t[5] = np.nan
    assert words(lambda: sampled_trace(t, light, "photodiode")) == (
        'photodiode: got "a value that is no number"; allowed: numbers only. Record it again.'
    )


def test_no_edges_are_refused():
    rng = np.random.default_rng(3)
    noise = Trace(1 + 0.1 * rng.standard_normal(2000), 10000.0, "t.csv")
    said = words(lambda: find_edges(noise))
    assert said.startswith('t.csv: got "no edges: levels 0.7')
    assert said.endswith(
        "allowed: steps of 10 times the noise or more. Put the photodiode on the flashing square, "
        "raise the gain, and record again."
    )
    flat = Trace(np.ones(2000), 10000.0, "t.csv")
    assert words(lambda: find_edges(flat)) == (
        't.csv: got "no edges: levels 1 and 1, noise 0"; allowed: steps of 10 times the noise or '
        "more. Put the photodiode on the flashing square, raise the gain, and record again."
    )


def test_edges_are_each_found_once_in_spite_of_noise(light):
    edges = find_edges(Trace(light, 48000.0, "t"))
    assert len(edges.at) == 20
    assert np.all(edges.rising[::2] != edges.rising[1])
    assert np.all(np.abs(np.diff(edges.at) - 240) <= 2)
    assert edges.noise == pytest.approx(0.01, rel=0.1)
