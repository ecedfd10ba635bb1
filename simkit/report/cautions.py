"""The texts that stand on every page: what the kit does not do, and to whom it defers."""

from __future__ import annotations

from collections.abc import Iterable

from simkit.process.physicsnote import GAS, LASER, LIFTING, PRESS, TOOLS

STANDING = (
    "Planning aid only. It does not assess safety. Machine guarding, laser, electrical, gas, fire and manual-handling "
    "measures follow the maker's instructions, local law and codes, and the judgement of licensed or competent "
    "persons. Unattended operation needs its own risk assessment and the insurer's agreement."
)
"""The standing line: help, foot of every page, every option."""

MONEY = (
    "The money pages compare options for planning. They are no tax or investment advice; the plant's controller and "
    "adviser decide what applies."
)

UNCALIBRATED = (
    "Uncalibrated: the model has not been fitted to observed weeks of this plant. The figures show what the inputs "
    "imply, not what the plant has been shown to do."
)

TOPICS: tuple[tuple[str, str], ...] = (
    (
        "Laser radiation",
        "the enclosure protects only while intact; figures of cutting time say nothing about the radiation; service "
        "work, windows, eyewear and reflections are the competent person's matter (IEC 60825-1, IEC 60825-4, "
        "ISO 11553-1, ISO 19818-1, EN 207, ANSI Z136.1, ANSI B11.21, 21 CFR 1040.10: named from memory, check the "
        "edition)",
    ),
    (
        "Punching, clamps, moving sheet",
        "the edge of a moving sheet sweeps the table; nobody steps in to free a slug in a running machine; forces are "
        "figures for planning and no assessment of a press or a tool, whose makers' limits decide (ISO 12100, "
        "ISO 11161, ISO 13855, ISO 16092, 29 CFR 1910.217, ANSI B11.1 to B11.3: named from memory, check the edition "
        "and whether it covers turret punching)",
    ),
    (
        "Added devices",
        "a removal device or a store adds hazard zones of its own (ISO 10218, ISO 11161: named from memory)",
    ),
    (
        "Unattended cutting and fire",
        "sparks, oily film and aluminium dust; who is alarmed at night; local fire code and the insurer decide",
    ),
    ("Fumes and dust", "stainless and zinc fumes and mixed-metal collectors follow local exposure limits"),
    ("Sharp edges and falling parts", "micro-joints, flying tabs and tall stacks follow site rules"),
    (
        "Manual lifting",
        "sheet masses stand beside the persons per lift; a low figure declares no task safe, a high one needs an "
        "assessment on the spot by a competent person; local limits apply (ISO 11228-1, EN 1005-2, Directive "
        "90/269/EEC: named from memory, check the edition)",
    ),
    (
        "Lockout",
        "work on dies, nozzles, jams and supports needs isolation; its minutes are an input and are never zero at a "
        "hazard",
    ),
    (
        "Gas",
        "nitrogen displaces air and suffocates without warning, also in pits, enclosures and rooms beside the tank; "
        "air rich in oxygen sets clothing, oil and grease on fire; ventilation, oxygen monitoring, clean fittings, "
        "cylinders and tanks follow the local gas and fire codes (NFPA 55, NFPA 115: named from memory, check the "
        "edition)",
    ),
    (
        "People",
        "lone work at night, pressure of work and the use of logs about staff follow local labour and privacy law",
    ),
    ("What-if limits", "breaks, isolation and inspection are not to be shortened below site rules in a what-if"),
)
"""Topic and text of each caution, as the reports print them."""

_OF_NOTES = {
    LASER: "Laser radiation", GAS: "Gas", LIFTING: "Manual lifting", PRESS: "Punching, clamps, moving sheet",
    TOOLS: "Punching, clamps, moving sheet",
}  # fmt: skip


def beside(topics: Iterable[str]) -> list[str]:
    """The standing line and the cautions that belong beside physics notes of these topics; none beside no note."""
    asked = {_OF_NOTES[topic] for topic in topics}
    return [STANDING, *(f"{topic}: {text}." for topic, text in TOPICS if topic in asked)] if asked else []
