"""The field reference names every file, column and key, with what the checks know about it."""

from __future__ import annotations

from pathlib import Path

from typer.testing import CliRunner

from simkit.cli import app
from simkit.plant.blank import models_in
from simkit.plant.fields import columns_of
from simkit.plant.options import Option
from simkit.plant.reference import reference_markdown
from simkit.plant.settings import Settings
from simkit.plant.settings_base import Section
from simkit.plant.tables import TABLES

TEXT = reference_markdown()


def sections(section: type[Section]) -> list[type[Section]]:
    inner = [m for field in section.model_fields.values() for m in models_in(field.annotation)]
    return [section, *(s for model in inner for s in sections(model))]  # type: ignore[arg-type]


def test_every_column_stands_in_its_table() -> None:
    for table, row_type in TABLES.items():
        part = TEXT.split(f"## {table}.csv", 1)[1].split("\n## ", 1)[0]
        for name, spec in columns_of(row_type).items():
            assert f"| `{name}`{' (key)' if spec.key else ''} | {spec.meaning} | {spec.unit} |" in part


def test_every_key_has_a_line_with_its_meaning() -> None:
    for section in [*sections(Settings), *sections(Option)]:
        for name, field in section.model_fields.items():
            assert f"| `{name}` | {field.description or 'see below'} |" in TEXT


def test_limits_words_and_defaults_are_shown() -> None:
    assert '| `dispatch` | order of work | `"arrival"` | one of arrival, due, grouped, searched |' in TEXT
    assert (
        "| `discount_rate` | fraction per year, as rate_basis says | `0.09` | above -1, below 1; usual 0.01 to 0.3 ("
        in TEXT
    )
    assert "| required | a row of programs.csv |" in TEXT


def test_every_row_of_a_table_has_as_many_cells_as_its_head() -> None:
    width = 0
    for line in TEXT.splitlines():
        if not line.startswith("|"):
            width = 0
            continue
        bars = line.replace("\\|", "").count("|")
        width = width or bars
        assert bars == width, line


def test_the_page_is_html(tmp_path: Path) -> None:
    assert CliRunner().invoke(app, ["fields", "--out", str(tmp_path / "fields.html")]).exit_code == 0
    page = (tmp_path / "fields.html").read_text(encoding="utf-8")
    assert page.count("<table>") == page.count("</table>") > 20
    assert "<code>order_id</code>" in page
    assert "mass_kg&gt;25" in page
    assert "joined by |," in page
