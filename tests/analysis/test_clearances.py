"""Clearances of a book by hand."""

from __future__ import annotations

from simkit.analysis.tool_questions import clearance_uses
from tests.analysis.test_standard_layout import tool_plant


def test_changes_are_counted_between_consecutive_uses_of_a_tool():
    """A is used at 0.3, 0.2, 0.2, 0.3; B only at 0.3 and 0.3; the order between uses does not matter."""
    uses = clearance_uses(tool_plant("AB", "A", "A", "B", "A", dies="maamm"))
    assert list(uses) == ["A"]
    assert uses["A"].orders == {0.2: 2, 0.3: 2}
    assert uses["A"].changes == {(0.2, 0.3): 2}


def test_one_clearance_throughout_has_no_pairs():
    assert clearance_uses(tool_plant("A", "A", dies="mm")) == {}
