"""Room for a removal device costs yield: the same parts take more sheets, and no part is punched twice for it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from simkit.plant.plant import PlantInputs, ScenarioInputs
from simkit.process.draws import make_draws
from simkit.process.workload import Workload, make_workload
from tests.cell.bench_plant import order, part, plant, program
from tests.oracle.compare import first_difference
from tests.oracle.plants import workload_of

PICKED, BENCHED = program("A", 10.0, handover="removal"), program("B", 10.0)


def cell(loss: float, *sheets: int, name: str = "A") -> PlantInputs:
    """Orders of so many sheets of ten minutes, four parts each, with a load of one minute."""
    return plant(
        orders=tuple(order(str(number), name, count) for number, count in enumerate(sheets)),
        programs=(PICKED, BENCHED), program_parts=(part("A", 4), part("B", 4)),
        removal={"pickers": 1, "yield_loss": loss}, times={"load": 1.0, "pick": 0.0},
    )  # fmt: skip


def counts(work: Workload) -> list[int]:
    return np.diff(work.first_sheet).tolist()


def replicated(built: PlantInputs, runs: int) -> list[Workload]:
    return [make_workload(ScenarioInputs("today", built), make_draws(built, 1, number)) for number in range(runs)]


def test_whole_sheets_more_are_made_whatever_the_luck() -> None:
    """49 sheets at 2 % are 50, and 98 are 100; of a program that is not picked they stay 49."""
    assert counts(workload_of(cell(0.02, 49, 98))) == [50, 100]
    assert counts(workload_of(cell(0.02, 49, name="B"))) == [49]
    assert counts(workload_of(cell(0.0, 49))) == [49]


def test_a_fraction_of_a_sheet_is_a_whole_one_as_often_as_it_says() -> None:
    """Five sheets at 2 % are 5.102: over 300 orders in 10 runs five or six, and 5.102 on average."""
    found = np.concatenate([counts(work) for work in replicated(cell(0.02, *[5] * 300), 10)])
    assert set(found.tolist()) == {5, 6}
    share = 5 / 0.98 - 5
    assert abs(found.mean() - 5 / 0.98) < 4 * np.sqrt(share * (1 - share) / len(found))


def test_a_greater_loss_never_takes_fewer_sheets() -> None:
    sheets = [np.array(counts(workload_of(cell(loss, *range(1, 60))))) for loss in (0.0, 0.01, 0.02, 0.1, 0.4, 0.7)]
    assert all((more >= less).all() for less, more in pairwise(sheets))


def test_every_sheet_has_luck_of_its_own_and_those_ordered_keep_theirs() -> None:
    today, lossy = workload_of(cell(0.0, 3, 5, 2)), workload_of(cell(0.7, 3, 5, 2))
    uid = lossy.sheets.uid.tolist()
    assert len(set(uid)) == len(uid) == sum(counts(lossy)) >= 33
    for number, first in enumerate(today.first_sheet[:-1]):
        own = lossy.sheets.uid[lossy.first_sheet[number] :].tolist()
        ordered = int(today.first_sheet[number + 1] - first)
        assert own[:ordered] == today.sheets.uid[first : first + ordered].tolist()


def test_an_order_takes_the_machine_longer_by_what_is_done_to_sheets_and_not_to_parts() -> None:
    """Eight sheets at 20 % are ten: ten loads of a minute instead of eight, and 80 minutes of cutting as before."""
    today, lossy = workload_of(cell(0.0, 8)), workload_of(cell(0.2, 8))
    assert (today.sheets.load_s.sum(), lossy.sheets.load_s.sum()) == (8 * 60, 10 * 60)
    assert lossy.sheets.cut_s.sum() == pytest.approx(today.sheets.cut_s.sum(), abs=1e-4)
    assert lossy.planned_h[0] - today.planned_h[0] == pytest.approx(1.15 * 2 / 60, abs=1e-6)
    assert first_difference(lossy) == ""
