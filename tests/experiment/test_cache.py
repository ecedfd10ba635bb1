from __future__ import annotations

import json
import logging

import pytest

from simkit.experiment.cache import Cache, RunKey

KEY = RunKey("book", "cell", 1, 0, 4.0, 1.0, "cell")


@pytest.fixture
def kept(tmp_path):
    cache = Cache(tmp_path, "code")
    cache.store(KEY, {"hours": 12.5, "sheets": 3})
    (path,) = tmp_path.rglob("*.json")
    return cache, path


def test_a_kept_run_comes_back_as_it_was(kept):
    cache, _ = kept
    assert cache.load(KEY) == {"hours": 12.5, "sheets": 3.0}


def halved(text: str) -> str:
    content = json.loads(text)
    content["totals"]["hours"] /= 2
    return json.dumps(content)


@pytest.mark.parametrize("damage", [halved, lambda text: "{}", lambda text: text[:20], lambda text: "[1]"])
def test_a_damaged_run_is_told_set_aside_and_run_anew(kept, damage, caplog):
    cache, path = kept
    path.write_text(damage(path.read_text(encoding="utf-8")), encoding="utf-8")
    with caplog.at_level(logging.WARNING):
        assert cache.load(KEY) is None
    assert "a kept run is damaged" in caplog.text
    assert path.name in caplog.text
    assert path.with_suffix(".damaged").exists()
    assert cache.load(KEY) is None
    cache.store(KEY, {"hours": 12.5})
    assert cache.load(KEY) == {"hours": 12.5}
