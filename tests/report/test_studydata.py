from __future__ import annotations

import dataclasses
import json

import pandas as pd
import pytest

from simkit.base.messages import BadInput
from simkit.report.studydata import RIBBON_COLUMNS, StudyFolder, digests, read_study, write_study
from tests.report.fake_results import fake_study
from tests.report.option_plant import SCENARIOS, option_plant

FILES = ("results.csv", "ribbon.csv", "nights.csv", "run.json")


@pytest.fixture
def written(tmp_path):
    study = fake_study(option_plant(), SCENARIOS, package="N1+N2", factors=(1.0, 1.25), replications=2)
    write_study(tmp_path / "results", study)
    return tmp_path / "results", study


def changed(study: StudyFolder, **tables: pd.DataFrame) -> StudyFolder:
    return dataclasses.replace(study, tables={**study.tables, **tables})


def test_a_study_folder_comes_back_as_it_was_written(written):
    folder, study = written
    back = read_study(folder)
    pd.testing.assert_frame_equal(back.results.frame, study.results.frame, check_dtype=False)
    for name in study.tables:
        pd.testing.assert_frame_equal(back.table(name), study.table(name), check_dtype=False)
    assert back.run == dataclasses.replace(study.run, files=digests(folder))
    assert set(back.run.files) == {path.name for path in folder.iterdir()} - {"run.json"}


def test_the_same_study_gives_the_same_bytes(written, tmp_path):
    folder, study = written
    write_study(tmp_path / "again", study)
    for name in FILES:
        assert (folder / name).read_bytes() == (tmp_path / "again" / name).read_bytes()


def test_every_missing_file_is_named(tmp_path):
    with pytest.raises(BadInput) as error:
        read_study(tmp_path)
    assert all(name in str(error.value) for name in FILES)


def test_a_ribbon_without_a_column_is_refused(written, tmp_path):
    _, study = written
    with pytest.raises(BadInput, match=r"ribbon\.csv.*state"):
        write_study(tmp_path / "other", changed(study, ribbon=study.table("ribbon").drop(columns="state")))
    assert not (tmp_path / "other").exists()


def test_an_unknown_entry_of_the_run_card_is_refused_with_the_nearest(written):
    folder, _ = written
    card = json.loads((folder / "run.json").read_text(encoding="utf-8"))
    (folder / "run.json").write_text(json.dumps({**card, "sead": 3}), encoding="utf-8")
    with pytest.raises(BadInput, match="did you mean 'seed'"):
        read_study(folder)


def test_a_scenario_is_found_by_its_options_in_any_order(written):
    _, study = written
    assert study.run.named(frozenset(("A1", "N2", "N1"))) == "N1+N2+A1"
    assert study.run.named(frozenset(("A1", "C2"))) is None


def test_the_ribbon_has_the_documented_columns(written):
    assert tuple(written[1].table("ribbon").columns) == RIBBON_COLUMNS


def test_names_in_tables_stay_text(written, tmp_path):
    _, study = written
    renamed = study.table("ribbon").assign(resource="007")
    write_study(tmp_path / "other", changed(study, ribbon=renamed))
    assert set(read_study(tmp_path / "other").table("ribbon")["resource"]) == {"007"}
