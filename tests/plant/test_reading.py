"""Every class of broken input gives one clear message, and all of them come together."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.base.messages import BadInput
from simkit.plant.hashes import inputs_sha256, with_changes
from simkit.plant.reading import check_plant, read_plant
from tests.plant.conftest import Folder
from tests.small_plant import small_plant, with_element, write_small_plant

TOML_CASES = [
    ("withdrawn", "overtime_cap_h_per_week = 6.0", "overtime_backlog_h = 4.0", "withdrawn, overflow.overtime = true"),
    ("curency", 'currency = "CU"', 'curency = "CU"', "did you mean 'currency'?"),
    ("section", "[finance]", "[financ]", "did you mean 'finance'?"),
    ("choice", 'dispatch = "arrival"', 'dispatch = "arival"', "did you mean 'arrival'?"),
    ("fraction", "discount_rate = 0.09", "discount_rate = 9", "9 means 900 % a year; 0.09 is 9 % a year"),
    ("text for number", "press_capacity_kn = 200.0", 'press_capacity_kn = "200"', "should be a valid number"),
    ("number for flag", "lifter = false", "lifter = 0", "should be a valid boolean"),
    ("date", "as_of = 2026-01-01", 'as_of = "03/04/2026"', "ISO date"),
    ("not finite", "laser_power_kw = 4.0", "laser_power_kw = nan", "not a finite number"),
    ("required", 'name = "Small plant"', "", "name: is required but missing"),
]
CSV_CASES = [
    ("decimal comma", "materials.csv", ",1.5,", ',"1,5",', 'thickness_mm "1,5": has a decimal comma'),
    ("date", "orders.csv", "2026-01-05", "03/04/2026", "could be 3 April 2026 or 4 March 2026"),
    ("flag", "orders.csv", ",false", ",maybe", 'rush "maybe": is not true or false'),
    ("range", "orders.csv", ",3,", ",0,", "must be 1 to 100000 sheets"),
    ("choice", "tools.csv", ",cutting,", ",cuting,", "did you mean 'cutting'?"),
    ("unit", "elements.csv", "s/hit", "s/hitt", "unit \"s/hitt\": counts per 'hitt', which is not known"),
    ("condition", "elements.csv", "mass_kg>25", "mass_kg>2x", "is not a number with a decimal point. Correct it; see"),
    ("empty", "orders.csv", "P-1", "", "program_id: is empty but must have a value"),
    ("unknown column", "orders.csv", "rush", "rushh", "did you mean 'rush'?"),
    ("missing column", "orders.csv", "sheets,", "sheetz,", "did you mean 'sheets'?"),
    ("twice a head", "orders.csv", "released,due", "released,released", "stands twice in the heads"),
    ("semicolons", "machines.csv", "machine_id,overrides\nM1,", "machine_id;overrides\nM1;", "semicolons between"),
    ("quotes", "machines.csv", "M1,", 'M1,"open', "quotation marks"),
    ("too many cells", "machines.csv", "M1,", "M1,,x", "3 cells under 2 heads"),
    ("no head", "machines.csv", "machine_id,overrides", "machine_id,,overrides", "column without a head"),
]


@pytest.mark.parametrize(("old", "new", "said"), [c[1:] for c in TOML_CASES], ids=[c[0] for c in TOML_CASES])
def test_a_fault_in_the_settings_is_one_message(folder: Folder, old: str, new: str, said: str) -> None:
    message = folder.change("plant.toml", old, new).only()
    assert message.startswith("plant.toml")
    assert said in message


@pytest.mark.parametrize(("name", "old", "new", "said"), [c[1:] for c in CSV_CASES], ids=[c[0] for c in CSV_CASES])
def test_a_fault_in_a_table_is_one_message(folder: Folder, name: str, old: str, new: str, said: str) -> None:
    message = folder.change(name, old, new).only()
    assert message.startswith(name)
    assert said in message


def test_the_small_plant_is_clean(folder: Folder) -> None:
    plant, findings = check_plant(folder.path)
    assert findings == ()
    assert plant == small_plant()


def test_five_faults_in_five_files_come_in_one_message(folder: Folder) -> None:
    folder.change("plant.toml", "weeks = 1", "weeks = 0")
    folder.change("orders.csv", "2026-01-07", "7.1.26")
    folder.change("tools.csv", ",6,6,16,", ',"6,5",6,16,')
    folder.change("program_tools.csv", "TL-003", "TL-033")
    folder.append("options.toml", '[[option]]\nid = "N1"\nname = "x"\nkind = "lowcapital"\n')
    with pytest.raises(BadInput) as caught:
        read_plant(folder.path)
    text = str(caught.value)
    for place in ("plant.toml", "orders.csv row 2 due", "tools.csv row 2 length_mm", "TL-033", "options.toml row 4"):
        assert place in text
    assert text.startswith("5 problems in the input:")


def test_rows_count_as_an_editor_shows_them(folder: Folder) -> None:
    folder.change("orders.csv", "1001,", "\n\n1001,").change("orders.csv", "1003,P-1,2", "1003,P-1,two")
    assert folder.only().startswith("orders.csv row 6 sheets")


def test_a_text_over_two_lines_does_not_shift_the_rows(folder: Folder) -> None:
    folder.change("tools.csv", "round 6", '"round\n6"').change("tools.csv", ",4,4,16,", ",4,4,sixteen,")
    assert folder.only().startswith('tools.csv row 4 station_size_mm "sixteen"')


def test_many_like_faults_become_one_message_with_rows(folder: Folder) -> None:
    path = folder.path / "program_tools.csv"
    path.write_text(path.read_text().replace("TL-", "").replace(",0\n", ',"0,5"\n'))
    message = next(text for text in folder.messages() if "angle" in text)
    assert "in 4 more rows (3, 5, 6, 7)" in message


def test_a_doubled_key_names_both_rows(folder: Folder) -> None:
    message = folder.append("orders.csv", "1002,P-2,1,2026-01-05,2026-01-09,false\n").only()
    assert 'order_id "1002": stands in rows 3, 8' in message


def test_a_missing_reference_is_told_once_with_its_reach(folder: Folder) -> None:
    path = folder.path / "program_tools.csv"
    path.write_text(path.read_text().replace("TL-001", "TL-071"))
    message = folder.only()
    assert 'row 2 tool_id "TL-071": is not in tools.csv (also row 5)' in message
    assert "6 orders with 21 sheets cannot run" in message


def test_a_faulty_row_does_not_spoil_the_references_to_it(folder: Folder) -> None:
    message = folder.change("tools.csv", "TL-001,round 6,6", "TL-001,round 6,six").only()
    assert message.startswith('tools.csv row 2 length_mm "six"')


def test_a_missing_file(folder: Folder) -> None:
    (folder.path / "orders.csv").unlink()
    assert folder.only().startswith("orders.csv: is required but not in the folder")


def test_a_missing_settings_file(folder: Folder) -> None:
    (folder.path / "plant.toml").unlink()
    assert folder.only().startswith("plant.toml: is required but not in the folder")


def test_broken_toml_names_the_line(folder: Folder) -> None:
    message = folder.change("plant.toml", "weeks = 1", "weeks = 1,5").only()
    assert "is not valid TOML" in message
    assert '"weeks = 1,5' in message


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"machine_id,overrides\nM\xe4,\n", "row 2: is not UTF-8 text (byte 0xe4)"),
        (b"PK\x03\x04rest", "is a spreadsheet or archive"),
        (b"", "is empty"),
        (b"machine_id,overrides\n", "has heads but no rows"),
    ],
)
def test_files_that_are_no_tables(folder: Folder, content: bytes, said: str) -> None:
    (folder.path / "machines.csv").write_bytes(content)
    assert said in folder.only()


def test_a_byte_order_mark_and_windows_line_ends_are_read(folder: Folder) -> None:
    path = folder.path / "orders.csv"
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert read_plant(folder.path) == small_plant()


def test_blanks_around_cells_are_noted(folder: Folder) -> None:
    folder.change("orders.csv", "1001,P-1", "1001 , P-1")
    assert "blanks around them in 1 rows" in folder.only("note")
    assert read_plant(folder.path) == small_plant()


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="does not exist"):
        read_plant(tmp_path / "nowhere")


def test_unknown_keys_of_the_options_file(folder: Folder) -> None:
    folder.append("options.toml", "[options]\nid = 1\n")
    assert "under its own line [[option]]" in folder.only()


class TestValueFiles:
    def test_a_file_of_values_is_read_and_scaled_by_nothing(self, folder: Folder) -> None:
        folder.change("elements.csv", "loading,constant,1.9,0,", "loading,empirical,2,0,loads.csv")
        folder.append("loads.csv", "1\n2\n3\n")
        assert read_plant(folder.path).sequences == {"loads.csv": (1.0, 2.0, 3.0)}

    def test_two_columns_for_a_stop(self, folder: Folder) -> None:
        head, tail = "breakdown,both,running_hour,0.018,0,0,0,", ",78,0,technician,true,0,0,"
        folder.change("stops.csv", f"{head}constant{tail}", f"{head}sequence{tail}stops_seen.csv")
        folder.append("stops_seen.csv", "exposure,repair_min\n10,60\n30,96\n")
        assert read_plant(folder.path).sequences == {
            "stops_seen.csv": (10.0, 30.0),
            "stops_seen.csv:repair": (60.0, 96.0),
        }

    def test_a_file_that_is_not_there(self, folder: Folder) -> None:
        folder.change("elements.csv", "loading,constant,1.9,0,", "loading,empirical,1.9,0,loads.csv")
        folder.append("load.csv", "1\n")
        assert 'file "loads.csv": is not in the folder' in folder.only()
        assert "did you mean 'load.csv'?" in folder.only()

    def test_a_law_without_its_file(self, folder: Folder) -> None:
        folder.change("elements.csv", "loading,constant,", "loading,empirical,")
        assert "the law empirical reads a file" in folder.only()

    def test_a_file_outside_the_folder(self, folder: Folder) -> None:
        folder.change("elements.csv", "loading,constant,1.9,0,", "loading,empirical,1.9,0,../x.csv")
        assert "leads out of the plant folder" in folder.only()

    @pytest.mark.parametrize(
        ("text", "said"),
        [("1,5\n2,5\n", "2 columns where 1 is expected"), ("1\nx\n", "is not a number"), ("1\n-2\n", "out of range")],
    )
    def test_a_file_with_wrong_values(self, folder: Folder, text: str, said: str) -> None:
        folder.change("elements.csv", "loading,constant,1.9,0,", "loading,empirical,1,0,loads.csv")
        assert said in folder.append("loads.csv", text).messages()[0]

    def test_a_mean_that_differs_is_noted(self, folder: Folder) -> None:
        folder.change("elements.csv", "loading,constant,1.9,0,", "loading,empirical,1.9,0,loads.csv")
        assert "has a mean of 3" in folder.append("loads.csv", "3\n3\n").only("note")


def test_the_hash_of_a_folder_changes_with_any_byte(folder: Folder) -> None:
    before = inputs_sha256(folder.path)
    assert inputs_sha256(folder.path) == before
    assert with_changes(before, ()) == before
    assert len({before, *(with_changes(before, [change]) for change in ("a=1", "a=2"))}) == 3
    assert inputs_sha256(folder.change("orders.csv", "1001", "1010").path) != before


def test_two_written_folders_of_one_plant_have_one_hash(tmp_path: Path) -> None:
    assert inputs_sha256(write_small_plant(tmp_path / "a")) == inputs_sha256(write_small_plant(tmp_path / "b"))


def test_with_element_changes_every_row_of_it() -> None:
    assert {
        row.typical for row in with_element(small_plant(), "load", typical=0.0).elements if row.element == "load"
    } == {0}


NOISE = st.sampled_from(
    [b",", b"\n", b'"', b"=", b"[", b"]", b"nan", b"1,5", b"\x00", b"\xff", b"03/04/2026", b"", b"{", b"[["]
)


@pytest.fixture(scope="module")
def noisy(tmp_path_factory: pytest.TempPathFactory) -> dict[Path, bytes]:
    folder = write_small_plant(tmp_path_factory.mktemp("noisy") / "plant")
    return {path: path.read_bytes() for path in sorted(folder.iterdir())}


@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_noise_in_any_file_gives_findings_and_never_an_exception(noisy: dict[Path, bytes], data: st.DataObject) -> None:
    path = data.draw(st.sampled_from(list(noisy)))
    content = noisy[path]
    at = data.draw(st.integers(0, len(content)))
    path.write_bytes(content[:at] + data.draw(NOISE) + content[at + data.draw(st.integers(0, 4)) :])
    try:
        plant, findings = check_plant(path.parent)
        assert (plant is None) == any(finding.severity == "error" for finding in findings)
    finally:
        path.write_bytes(content)
