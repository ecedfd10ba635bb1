"""A changed input changes the pages that read it, and no other."""

from __future__ import annotations

from pathlib import Path

import pytest

from simkit.report.render import render_studies
from tests.report.option_plant import write_option_plant
from tests.report.rendered import Rendering, write_small_study

CHANGES = {
    "nothing": (None, set()),
    "a rate": (("plant.toml", "discount_rate = 0.09", "discount_rate = 0.10"), {"payback", "index"}),
    "the price of part removal": (
        ("options.toml", "quoted = 305000.0", "quoted = 306000.0"), {"options", "payback", "index"}
    ),
    "the price of a magazine": (
        ("options.toml", "quoted = 185000.0", "quoted = 186000.0"), {"options", "payback", "index"}
    ),
    "the price of gas": (("plant.toml", "gas_per_m3 = 0.24", "gas_per_m3 = 0.25"), {"times", "payback", "index"}),
    "the ramp": (("plant.toml", "ramp_start = 0.6", "ramp_start = 0.7"), {"times", "payback", "index"}),
}  # fmt: skip
"""File, text and new text; the pages that must change."""


def pages_in(folder: Path) -> dict[str, bytes]:
    return {page.stem: page.read_bytes() for page in folder.glob("*.html")}


def rendered_anew(folder: Path, change: tuple[str, str, str] | None) -> dict[str, bytes]:
    """Pages of the small plant after one text of one file is changed; the simulated numbers stay as they are."""
    plant_folder = write_option_plant(folder / "plant")
    if change:
        name, old, new = change
        text = (plant_folder / name).read_text(encoding="utf-8")
        assert text.count(old) == 1
        (plant_folder / name).write_text(text.replace(old, new), encoding="utf-8")
    write_small_study(plant_folder, folder / "out")
    rendered = render_studies(plant_folder, folder / "out", say=lambda _: None)
    assert not any(page.failure for page in rendered)
    return pages_in(folder / "out")


@pytest.mark.parametrize("name", CHANGES)
def test_a_changed_input_changes_the_pages_that_read_it(rendering: Rendering, tmp_path: Path, name: str) -> None:
    change, read_by = CHANGES[name]
    before, after = pages_in(rendering.out_dir), rendered_anew(tmp_path, change)
    assert len(before) == 6
    assert after.keys() == before.keys()
    assert {page for page in before if before[page] != after[page]} == read_by
