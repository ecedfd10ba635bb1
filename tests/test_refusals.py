"""What stops a command in the computer or in a name: a message and an exit code, never a traceback."""

from __future__ import annotations

import base64
import os
import resource
import shutil
import sys
import tempfile
import traceback
from collections.abc import Callable, Iterator
from pathlib import Path

import matplotlib
import pytest
from matplotlib.figure import Figure
from papermill.parameterize import parameterize_path

from simkit.cli import main
from simkit.report.figures.style import STYLE
from simkit.report.notebooks import _as_it_is
from simkit.report.pictures import picture_html, told
from tests.process.test_findings import without_loading
from tests.small_plant import write_small_plant
from tests.test_cli import run

NOBODY = 65534
HARD_NAME = "A [/red] [bold] $x_{ $ =1+1 {b}"


@pytest.fixture
def shared() -> Iterator[Path]:
    """A folder that every user of the computer may enter, with a plant in it."""
    folder = Path(tempfile.mkdtemp(prefix="simkit-test-"))
    folder.chmod(0o755)
    plant = write_small_plant(folder / "plant", elements=without_loading())
    plant.chmod(0o755)
    yield plant
    plant.chmod(0o755)
    shutil.rmtree(folder)


def in_child(prepare: Callable[[], None], *arguments: str) -> tuple[int, str]:
    """Exit code and output of a command in a child process, after ``prepare`` has taken something away from it."""
    reading, writing = os.pipe()
    child = os.fork()
    if not child:
        code = 99
        try:
            sys.stdout = sys.stderr = os.fdopen(writing, "w")
            prepare()
            sys.argv = ["simkit", *arguments]
            main()
        except SystemExit as end:
            code = int(end.code or 0)
        except BaseException:
            traceback.print_exc()
        finally:
            sys.stdout.close()
            os._exit(code)
    os.close(writing)
    with os.fdopen(reading) as said:
        text = said.read()
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), text


def become_nobody() -> None:
    if os.geteuid() == 0:
        os.setgroups([])
        os.setgid(NOBODY)
        os.setuid(NOBODY)


def nothing_fits() -> None:
    """No file may grow: what a full disk does to a writer."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))


@pytest.fixture(autouse=True, scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Load all modules of these commands: a child without rights may not be allowed to read them."""
    plant = write_small_plant(tmp_path_factory.mktemp("loaded") / "plant")
    with pytest.MonkeyPatch.context() as monkeypatch:
        run(monkeypatch, "check", str(plant))
        run(monkeypatch, "run", str(plant), "--workers", "1", "--json")
        run(monkeypatch, "fields")


def test_a_table_without_permission_is_a_finding(shared: Path) -> None:
    (shared / "orders.csv").chmod(0)
    code, said = in_child(become_nobody, "check", str(shared))
    assert (code, "error orders.csv: cannot be read (Permission denied)" in said) == (2, True), said
    assert "Traceback" not in said


def test_a_folder_without_permission_is_a_finding(shared: Path) -> None:
    shared.chmod(0)
    code, said = in_child(become_nobody, "check", str(shared))
    assert (code, "is not readable" in " ".join(said.replace("│", "").split())) == (2, True), said


@pytest.mark.parametrize("name", ["note.txt", "old.csv", "note.toml"])
def test_a_note_that_cannot_be_read_stops_nothing(shared: Path, name: str) -> None:
    (shared / name).write_text("private")
    (shared / name).chmod(0)
    code, said = in_child(become_nobody, "run", str(shared), "--workers", "1", "--json")
    assert (code, '"inputs_sha256"' in said) == (0, True), said


def test_a_place_without_permission_is_told(shared: Path) -> None:
    for arguments in (["new", str(shared / "own")], ["fields", "--out", str(shared / "fields.md")]):
        code, said = in_child(become_nobody, *arguments)
        assert code in (2, 3)
        assert "Permission denied" in said
        assert "Traceback" not in said


def test_a_full_disk_is_told_and_leaves_nothing(shared: Path) -> None:
    code, said = in_child(nothing_fits, "fields", "--out", str(shared / "fields.md"))
    assert (code, "File too large" in said, "Traceback" in said) == (3, True, False), said
    assert not (shared / "fields.md").exists()


def test_a_warm_up_beyond_the_end_of_the_work_breaks_off_with_a_reason(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plant = write_small_plant(tmp_path / "p", run={"warmup_s": 1e6})
    assert run(monkeypatch, "run", str(plant), "--workers", "1") == 3
    assert "ends within the warm-up of 1e+06 s" in capsys.readouterr().err


def test_a_name_too_long_for_the_computer(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(monkeypatch, "check", "x" * 5000) == 2
    assert "cannot be listed (File name too long)" in capsys.readouterr().out


def test_names_are_shown_as_they_are(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plant = write_small_plant(tmp_path / "p{x}[red]")
    text = (plant / "plant.toml").read_text().replace("Small plant", HARD_NAME)
    (plant / "plant.toml").write_text(text)
    (plant / "options.toml").write_text(f'[[option]]\nid = "N1"\nname = "{HARD_NAME}"\nkind = "low_capital"\n')
    assert run(monkeypatch, "check", str(plant)) == 0
    assert run(monkeypatch, "run", str(plant), "--options", "N1", "--workers", "1") == 0
    assert HARD_NAME in " ".join(capsys.readouterr().out.split())


def test_names_in_figures_are_no_formulas() -> None:
    with matplotlib.rc_context(STYLE):
        axes = (figure := Figure()).subplots()
        axes.barh(["a $x_{ $", r"b $\q$"], [1, 2], label=HARD_NAME)
        axes.legend()
        told(axes, HARD_NAME)
        page = picture_html(figure)[0]
    drawn = base64.b64decode(page.split("base64,")[1].split('"')[0]).decode()
    assert "a $x_{ $" in drawn
    assert f"<figcaption>{HARD_NAME}</figcaption>" in page


@pytest.mark.parametrize("name", ["a{b}", "{", "}{", "{0}", "{{x}}", "plain"])
def test_braces_in_a_path_are_no_parameters(name: str) -> None:
    assert parameterize_path(_as_it_is(Path("out") / name), {"b": 1}) == str(Path("out") / name)
