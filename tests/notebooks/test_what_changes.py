"""A changed input changes the pages that read it, and no other."""

from __future__ import annotations

import dataclasses
from pathlib import Path

from simkit.experiment.runner import make_scenarios
from simkit.plant.hashes import inputs_sha256
from simkit.plant.reading import read_plant
from simkit.report.render import claim_folder, render_studies
from simkit.report.studydata import write_study
from tests.report.fake_results import fake_study
from tests.report.option_plant import SCENARIOS, write_option_plant


def pages(folder: Path, change: tuple[str, str, str] | None = None) -> dict[str, bytes]:
    """Pages of the small plant after one text of one file is changed; the simulated numbers stay as they are."""
    plant_folder = write_option_plant(folder / "plant")
    if change:
        name, old, new = change
        text = (plant_folder / name).read_text(encoding="utf-8")
        assert text.count(old) == 1
        (plant_folder / name).write_text(text.replace(old, new), encoding="utf-8")
    plant = read_plant(plant_folder)
    scenarios = dict(zip(SCENARIOS, make_scenarios(plant, list(SCENARIOS.values())), strict=True))
    study = fake_study(
        plant, SCENARIOS, package="N1+N2", factors=(1.0, 1.25), inputs_sha256=inputs_sha256(plant_folder)
    )
    card = dataclasses.replace(
        study.run,
        physics_hashes={name: scenario.physics_hash for name, scenario in scenarios.items()},
        money_hashes={name: scenario.money_hash for name, scenario in scenarios.items()},
    )
    out = folder / "out"
    claim_folder(out)
    write_study(out / "results", dataclasses.replace(study, run=card))
    rendered = render_studies(plant_folder, out, say=lambda _: None)
    assert not any(page.failure for page in rendered)
    return {page.stem: page.read_bytes() for page in out.glob("*.html")}


def changed(before: dict[str, bytes], after: dict[str, bytes]) -> set[str]:
    return {name for name in before if before[name] != after[name]}


def test_a_price_and_a_rate_change_the_pages_that_read_them(tmp_path: Path) -> None:
    before = pages(tmp_path / "before")
    rate = pages(tmp_path / "rate", ("plant.toml", "discount_rate = 0.09", "discount_rate = 0.10"))
    price = pages(tmp_path / "price", ("options.toml", "quoted = 305000.0", "quoted = 306000.0"))
    assert changed(before, pages(tmp_path / "again")) == set()
    assert changed(before, rate) == {"payback", "index"}
    assert changed(before, price) == {"options", "payback", "index"}


def test_the_price_of_a_magazine_changes_the_page_of_tools_too(tmp_path: Path) -> None:
    before = pages(tmp_path / "before")
    price = pages(tmp_path / "price", ("options.toml", "quoted = 185000.0", "quoted = 186000.0"))
    assert changed(before, price) == {"options", "tools", "payback", "index"}


def test_the_page_of_times_prints_the_money_of_gas_and_power_and_the_ramp_alone(tmp_path: Path) -> None:
    before = pages(tmp_path / "before")
    gas = pages(tmp_path / "gas", ("plant.toml", "gas_per_m3 = 0.24", "gas_per_m3 = 0.25"))
    ramp = pages(tmp_path / "ramp", ("plant.toml", "ramp_start = 0.6", "ramp_start = 0.7"))
    assert changed(before, gas) == {"times", "payback", "index"}
    assert changed(before, ramp) == {"times", "payback", "index"}
