from __future__ import annotations

import logging

import numpy as np
import pytest

from simkit.experiment.cache import Cache, Run, RunKey
from simkit.experiment.nights import Night
from simkit.experiment.tables import table_of
from simkit.experiment.toolmeasures import WrongLoadCount

KEY = RunKey("book", "cell", 1, 0, 4.0, 1.0, "cell")
FAULTS = table_of(
    WrongLoadCount, [("wrong die", "later", 3.0), ("a tool turned the wrong way round", "first_hit", 0.1)]
)
RUN = Run({"hours": 12.5, "sheets": 3}, {"faults": FAULTS, "nights": table_of(Night, [])})


@pytest.fixture
def kept(tmp_path):
    cache = Cache(tmp_path, "code")
    cache.store(KEY, RUN)
    (path,) = tmp_path.rglob("*.run")
    return cache, path


def test_a_kept_run_comes_back_as_it_was(kept):
    cache, _ = kept
    totals, records = cache.load(KEY)
    assert totals == {"hours": 12.5, "sheets": 3.0}
    assert list(records) == ["faults", "nights"]
    for name, table in records.items():
        assert table.dtype == RUN.records[name].dtype
        np.testing.assert_array_equal(table, RUN.records[name])


def test_records_are_read_only_where_they_are_wanted(kept):
    assert kept[0].load(KEY, records=False) == ({"hours": 12.5, "sheets": 3.0}, {})


def test_the_same_run_gives_the_same_bytes(kept, tmp_path):
    again = Cache(tmp_path / "again", "code")
    again.store(KEY, RUN)
    (path,) = (tmp_path / "again").rglob("*.run")
    assert path.read_bytes() == kept[1].read_bytes()


def test_a_run_without_records_is_kept(tmp_path):
    cache = Cache(tmp_path, "code")
    cache.store(KEY, Run({"hours": 1.0}, {}))
    assert cache.load(KEY) == ({"hours": 1.0}, {})


def changed(content: bytes) -> bytes:
    return content.replace(b"12.5", b"6.25")


def last_byte_changed(content: bytes) -> bytes:
    return content[:-1] + bytes([content[-1] ^ 1])


@pytest.mark.parametrize("damage", [
    changed, last_byte_changed, lambda _: b"", lambda content: content[:20], lambda content: content[:-9],
    lambda _: b"[1]",
])  # fmt: skip
def test_a_damaged_run_is_told_set_aside_and_run_anew(kept, damage, caplog):
    cache, path = kept
    path.write_bytes(damage(path.read_bytes()))
    with caplog.at_level(logging.WARNING):
        assert cache.load(KEY, records=False) is None
    assert "a kept run is damaged" in caplog.text
    assert path.name in caplog.text
    assert path.with_suffix(".damaged").exists()
    assert cache.load(KEY) is None
    cache.store(KEY, RUN)
    assert cache.load(KEY).totals == {"hours": 12.5, "sheets": 3.0}
