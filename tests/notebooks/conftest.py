"""Pages of one file of tests are made by one kernel, as those of a report are."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest

from simkit.desk import rendering
from simkit.report.notebooks import Kernel, kernels_by_themselves, studies_folder


@pytest.fixture(scope="module")
def kept_kernel() -> Iterator[None]:
    """What a kernel loads is loaded once for a file; it forgets all names between pages."""
    with kernels_by_themselves(rendering.STARTUP) as how, pytest.MonkeyPatch.context() as patch:
        kernel = Kernel(how)

        @contextmanager
        def kept(first: str) -> Iterator[dict[str, Any]]:
            assert first == rendering.STARTUP
            yield kernel.ready(studies_folder())

        patch.setattr(rendering, "kernels_by_themselves", kept)
        yield
        kernel.close()
