"""The file: read back as it was, strict, watermarked; refused where people are too few."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from healthy_people import FACTS, RINGS, drawn, simple

from analysis.reference import limits_db, load_reference, mean_db, quantile_db
from analysis.reference_build.build import build_reference
from analysis.reference_build.check import check_reference
from analysis.reference_build.fit import fit_levels
from analysis.reference_build.sample import Sample
from analysis.reference_build.writing import reference_toml
from protocols.errors import InputError
from protocols.field import Place


@pytest.fixture(scope="module")
def built():
    return build_reference(simple(80, 1, temporal_gain_db=6.0), FACTS, "lab-1")


@pytest.fixture
def read(built, tmp_path):
    path = tmp_path / "lab.toml"
    path.write_text(reference_toml(built.file))
    return load_reference(path)


def test_the_file_reads_back_to_the_same(built, read):
    assert read.file == built.file
    assert reference_toml(read.file) == reference_toml(built.file)


def test_the_bundled_reference_writes_and_reads_too(tmp_path):
    bundled = load_reference()
    path = tmp_path / "again.toml"
    path.write_text(reference_toml(bundled.file))
    assert load_reference(path).file == bundled.file


def test_levels_are_the_fits(built, read):
    """The fit's numbers against the file's, at three ages and shares."""
    for age in (30, 50, 70):
        for share in (0.01, 0.05, 0.5, 0.9):
            fitted = built.fit.levels_db(
                np.array([float(age)]), built.sample.eccentricity_deg, share
            )[0]
            told = quantile_db(read, built.sample.places, age, share)
            assert told == pytest.approx(fitted, abs=2e-3)
    assert mean_db(read, built.sample.places, 50) == pytest.approx(
        quantile_db(read, built.sample.places, 50, 0.5)
    )


def test_a_left_eye_is_read_at_the_mirror_image(built, read):
    """The temporal place is 6 dB better: right of the mark for the right eye, left for the left."""
    temporal, nasal = Place(12.0, 3.0), Place(-12.0, 3.0)
    right = limits_db(read, (temporal, nasal), 50, "right")
    left = limits_db(read, (nasal, temporal), 50, "left")
    assert left == pytest.approx(right)
    assert right[0] - right[1] == pytest.approx(6.0, abs=1.2)


def test_shares_between_those_of_the_file_lie_between(read, built):
    low, middle, high = (
        quantile_db(read, built.sample.places, 50, share) for share in (0.02, 0.03, 0.05)
    )
    assert ((low < middle) & (middle < high)).all()


@pytest.mark.parametrize("share", [0.001, 0.999])
def test_shares_beyond_those_of_the_file_are_refused(read, built, share):
    with pytest.raises(InputError, match=r"share: got .* the shares the reference holds"):
        quantile_db(read, built.sample.places, 50, share)


def test_places_that_were_not_measured_are_refused(read):
    with pytest.raises(InputError, match=r"pattern: got .*a place 3\.0 degrees from the nearest"):
        limits_db(read, (Place(12.0, 6.0),), 50)


def test_ages_beyond_those_measured_are_refused(read, built):
    with pytest.raises(InputError, match="years, the ages of lab-1"):
        limits_db(read, built.sample.places, built.file.to_age_years + 1)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("pooling =", "poling =", "measured.poling: got \"an unknown key\""),
        ("middle_age_years = ", "middle_age_years = -", "middle_age_years: got"),
        ("[[measured.places]]\nx_deg", "[[measured.places]]\nx_degg", "x_degg"),
        ("\nshare = 0.02\n", "\nshare = 0.01\n", "depths.share: got \"0.01\""),
        ("\nshare = 0.02\n", "\nshare = 0.005\n", "depths.share: got \"0.005\""),
        ("to_age_years = ", "to_age_years = 6 # ", "to_age_years: got"),
        ("interval = [0.0", "interval = [0.99", "interval: got"),
    ],
)
def test_a_mistake_in_the_file_has_one_clear_answer(built, tmp_path, old, new, said):
    path = tmp_path / "lab.toml"
    text = reference_toml(built.file)
    assert old in text
    path.write_text(text.replace(old, new, 1))
    with pytest.raises(InputError, match=r"lab\.toml") as refused:
        load_reference(path)
    assert said in str(refused.value)


def test_a_file_without_a_statement_cannot_be_said_to_hold(built, tmp_path):
    path = tmp_path / "lab.toml"
    head, *_ = reference_toml(built.file).partition("[[measured.tolerances]]")
    path.write_text(head.replace("[measured]\n", "[measured]\ntolerances = []\n"))
    with pytest.raises(InputError, match=r"measured\.tolerances: got \[\]"):
        load_reference(path)


def test_a_place_where_all_have_the_same_level_has_no_limit():
    sample = simple(60, 1)
    same = replace(sample, level_db=np.full_like(sample.level_db, 1.65))
    with pytest.raises(InputError, match="the same level of all people at x 12, y 3 degrees"):
        build_reference(same, FACTS, "lab")


def test_a_reference_that_could_not_be_read_again_is_not_made():
    sample = simple(60, 1)
    torn = replace(sample, level_db=np.where(sample.level_db > 25, 45.0, -4.0))
    with pytest.raises(InputError, match=r"the reference of these exams, .*: got .*; allowed: "):
        build_reference(torn, FACTS, "lab")


def test_a_check_names_whoever_is_too_old_for_the_reference(read):
    old = simple(12, 5)
    old = replace(old, age_years=np.where(np.arange(12) == 7, 95.0, 50.0))
    protocol = replace(FACTS, protocol_sha256=read.file.measured.protocol_sha256)
    with pytest.raises(InputError, match='DIR: got "H-007, 95 years old"; allowed: people of'):
        check_reference(read, old, protocol)


def test_simulated_exams_leave_a_watermark_and_real_ones_a_research_notice(built):
    assert built.file.synthetic
    assert built.file.notice.startswith("SYNTHETIC REFERENCE")
    real = build_reference(simple(60, 2), replace(FACTS, simulated=False), "lab-2")
    assert not real.file.synthetic
    assert "60 people of one laboratory, not a standard" in real.file.notice


def test_the_file_counts_people_eyes_and_says_how_it_pooled(built):
    measured = built.file.measured
    assert (built.file.people, measured.eyes, measured.exams) == (80, 160, 10)
    assert "mirrored" in measured.method
    assert "all places" in measured.pooling
    assert measured.wilks_content == pytest.approx(0.05 ** (1 / 80), abs=1e-5)
    assert [one.share for one in measured.tolerances] == [0.01, 0.05]
    for one in measured.tolerances:
        assert one.interval[0] < one.share < one.interval[1]


def test_too_few_people_are_refused_with_the_number_needed():
    with pytest.raises(InputError) as refused:
        build_reference(simple(42, 3), FACTS, "few")
    assert str(refused.value) == (
        'DIR: got "42 healthy people with a complete eye"; allowed: 59 or more; with fewer not '
        "even a 5 % limit is 95 % sure (Wilks 1941), and a 1 % limit that leans on no other place "
        "takes 299. Examine 17 more."
    )


def test_people_of_one_age_are_refused():
    sample = simple(60, 4)
    same = Sample(sample.codes, np.full(60, 40.0), sample.level_db, sample.places)
    with pytest.raises(InputError, match="people whose ages span 0 years"):
        build_reference(same, FACTS, "one age")


def test_planted_outliers_are_named_and_stay_in():
    sample = simple(80, 5)
    levels = sample.level_db.copy()
    levels[7] -= 9.0
    levels[11, 1, 2] -= 16.0
    spoilt = Sample(sample.codes, sample.age_years, levels, sample.places, sample.doubtful)
    built = build_reference(spoilt, FACTS, "odd")
    found = {one.code: one for one in built.outliers}
    assert {"H-007", "H-011"} <= set(found)
    assert len(found) <= 4
    assert "lower than the others" in found["H-007"].reason
    assert found["H-011"].worst_place == 2
    assert built.file.people == 80
    assert built.file.measured.outliers == [one.code for one in built.outliers]


def test_the_same_sample_gives_the_same_bytes():
    one, two = (build_reference(simple(60, 6), FACTS, "same") for _ in range(2))
    assert reference_toml(one.file) == reference_toml(two.file)


def test_a_reference_of_the_invented_population_is_close_to_its_source():
    """Population and bundled reference share a mean hill (27 dB, 0.15 a degree, 0.06 a year).

    200 people: standard error of a median about 0.25 dB, of a 1 % limit about 0.6 dB.
    """
    sample = drawn(200, 8)
    fit = fit_levels(sample)
    middle = np.array([50.0])
    source = load_reference()
    assert fit.medians_db(middle)[0] == pytest.approx(
        mean_db(source, RINGS.places, 50), abs=1.0
    )
    limits = fit.levels_db(middle, sample.eccentricity_deg, 0.01)[0]
    assert limits == pytest.approx(limits_db(source, RINGS.places, 50), abs=2.4)
