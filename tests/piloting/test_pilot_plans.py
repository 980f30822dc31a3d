"""Wrong plans and words: one clear line, exit code 2, nothing made. Plans and variants that fit."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from jsonschema import Draft202012Validator
from wrong_plans import CASES, PLAN, Wrong

from analysis.piloting.plan import Mix, PlanFile, load_plan, plan_schema
from analysis.piloting.result import pilot_schema
from analysis.piloting.variants import variants_of
from protocols.errors import InputError
from protocols.files import convert, toml_data
from protocols.library import load_protocol
from protocols.population.draw import MIXED, SHAPES
from stimulus.cli import run


def _files(folder: Path) -> dict[str, bytes | None]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() if path.is_file() else None
        for path in folder.rglob("*")
    }


def test_there_are_many() -> None:
    assert len(CASES) >= 30
    assert len({case.name for case in CASES}) == len(CASES)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_one_clear_line(
    case: Wrong,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    for name, text in {"plan.toml": case.plan, **case.files}.items():
        Path(name).parent.mkdir(exist_ok=True)
        Path(name).write_text(text)
    before = _files(tmp_path)
    assert run(list(case.words)) == 2
    said = capsys.readouterr()
    assert (said.out, said.err) == ("", f"error: {case.error}\n")
    assert _files(tmp_path) == before


def test_a_cluster_that_is_not_there_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    pytest.importorskip("distributed", reason="needs the cluster extra")
    monkeypatch.setattr("protocols.simulate.cluster.PATIENCE_S", 1.0)
    (tmp_path / "plan.toml").write_text(PLAN)
    words = ["pilot", str(tmp_path / "plan.toml"), "--out", str(tmp_path / "out")]
    assert run([*words, "--cluster", "nonsense://x"]) == 2
    assert "--cluster: got " in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["plan.toml"]


@pytest.mark.parametrize("schema", [plan_schema, pilot_schema])
def test_the_schemas_are_sound(schema) -> None:
    Draft202012Validator.check_schema(schema())


def test_the_plan_fits_its_schema_and_wrong_ones_do_not() -> None:
    validator = Draft202012Validator(plan_schema())
    validator.validate(toml_data(PLAN, "plan.toml"))
    data = toml_data(PLAN, "plan.toml")
    for key, value in (("people", 99), ("repeats", 0), ("prevalence", 5), ("who", "me")):
        assert list(validator.iter_errors({**data, key: value}))


def test_the_mix_knows_every_shape_of_the_population() -> None:
    assert Mix.__struct_fields__ == SHAPES
    assert convert(PlanFile, toml_data(PLAN, "p"), "p").population.mix.shares == dict(MIXED)


def test_a_grid_makes_every_combination_and_each_can_be_run(tmp_path: Path) -> None:
    text = PLAN.replace("[2.5, 4.0]", '[2.5, 4.0]\n"procedure.placement" = ["mean", "mode"]')
    (tmp_path / "plan.toml").write_text(text)
    plan, _ = load_plan(tmp_path / "plan.toml")
    variants = variants_of(plan, "plan.toml", tmp_path)
    assert [variant.label for variant in variants] == [
        "screen-19",
        "bayes-19 end_sd_db=2.5 placement=mean",
        "bayes-19 end_sd_db=2.5 placement=mode",
        "bayes-19 end_sd_db=4.0 placement=mean",
        "bayes-19 end_sd_db=4.0 placement=mode",
    ]
    for variant in variants[1:]:
        (tmp_path / variant.file).write_text(variant.protocol.text)
        again = load_protocol(str(tmp_path / variant.file))
        assert again.settings == variant.protocol.settings
        assert again.sha256 == variant.protocol.sha256
        procedure = msgspec.to_builtins(again.settings.procedure)
        assert procedure["end_sd_db"] == variant.changes["procedure.end_sd_db"]
        others = load_protocol("bayes-19").settings
        assert again.settings.catch_trials == others.catch_trials


def test_values_that_differ_in_sign_alone_have_files_of_their_own(tmp_path: Path) -> None:
    text = PLAN.replace("end_sd_db\" = [2.5, 4.0]", "prior_above_limit_db\" = [-2.0, 2.0]")
    plan = convert(PlanFile, toml_data(text, "plan.toml"), "plan.toml")
    files = [variant.file for variant in variants_of(plan, "plan.toml", tmp_path)]
    assert len(set(files)) == 3


def test_variants_are_never_written_over_each_other(tmp_path: Path) -> None:
    reasons = 'safety.override_reason" = ["a b", "a-b"]'
    text = PLAN.replace('procedure.end_sd_db" = [2.5, 4.0]', reasons)
    plan = convert(PlanFile, toml_data(text, "plan.toml"), "plan.toml")
    with pytest.raises(InputError, match=r"both would be written to bayes-19-.*a-b\.toml"):
        variants_of(plan, "plan.toml", tmp_path)


def test_a_protocol_file_is_found_from_the_plans_folder(tmp_path: Path) -> None:
    own = load_protocol("screen-19").text.replace('"screen-19"', '"ours"')
    (tmp_path / "ours.toml").write_text(own)
    (tmp_path / "plan.toml").write_text(PLAN.replace('"screen-19"', '"ours.toml"'))
    plan, _ = load_plan(tmp_path / "plan.toml")
    assert variants_of(plan, "plan.toml", tmp_path)[0].label == "ours"
    with pytest.raises(InputError, match=r'protocols\[0\].protocol: got "ours.toml"'):
        variants_of(plan, "plan.toml", tmp_path / "elsewhere")
