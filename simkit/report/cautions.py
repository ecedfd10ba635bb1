"""The texts that stand on every page: what the kit does not do, and to whom it defers."""

from __future__ import annotations

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
        "the enclosure protects only while intact; service work, windows and reflections are the competent person's "
        "matter (IEC 60825-1, ISO 11553-1: named from memory)",
    ),
    (
        "Punching, clamps, moving sheet",
        "the edge of a moving sheet sweeps the table; nobody steps in to free a slug in a running machine "
        "(ISO 12100, ISO 11161, ISO 13855: named from memory)",
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
        "sheet masses stand beside the persons per lift; local limits apply (ISO 11228: named from memory)",
    ),
    (
        "Lockout",
        "work on dies, nozzles, jams and supports needs isolation; its minutes are an input and are never zero at a "
        "hazard",
    ),
    ("Gas", "nitrogen can suffocate, oxygen enriches; cylinders and tanks follow the local gas code"),
    (
        "People",
        "lone work at night, pressure of work and the use of logs about staff follow local labour and privacy law",
    ),
    ("What-if limits", "breaks, isolation and inspection are not to be shortened below site rules in a what-if"),
)
"""Topic and text of each caution, as the reports print them."""
