"""Low-capital options of Tarnholt that depend on its two shifts: posts and breaks."""

from __future__ import annotations

from option_parts import Entry, add_row, edit, option, remove_row
from options_low_capital import LOW

EARLY_BREAKS = "Mon-Fri 09:00-09:15;Mon-Fri 12:00-12:30"
LATE_BREAKS = "Mon-Fri 17:00-17:15;Mon-Fri 19:30-20:00"
BENCH_BREAKS = "Mon-Fri 09:30-09:45;Mon-Fri 11:15-11:45;Mon-Fri 17:30-17:45;Mon-Fri 18:45-19:15"


def _second_bench(person: str, shift: str, breaks: str) -> Entry:
    return add_row("people", person_id=person, skills=["bench"], shift=shift, rate_per_h=26.0, duties=breaks)


def post_options() -> list[Entry]:
    """Return the options about who is there when."""
    return [
        option(
            "N3", "Second person at the bench", LOW, (0, 0.5, 1), lead=6,
            note="Stays: breaking out by hand. Forgotten: two wages all year. Loses when no job is bound by the bench.",
            edits=[_second_bench("BEN-E2", "early", EARLY_BREAKS), _second_bench("BEN-L2", "late", LATE_BREAKS)],
        ),
        option(
            "N6", "Staggered breaks", LOW, (0, 0, 0), lead=4,
            note="The bench person loads and unloads while the operator rests, and rests at another time. Breaks stand "
                 "as duties of each person here, of the same length as before. Forgotten: agreement with the staff. "
                 "Gains the minutes of the breaks at most; loses when the machine waits for work.",
            edits=[edit("plant.calendar.shifts[early].breaks", []), edit("plant.calendar.shifts[late].breaks", []),
                   edit("people[skills=changeover].duties", f"{EARLY_BREAKS};{LATE_BREAKS}"),
                   edit("people[skills=bench].duties", BENCH_BREAKS),
                   edit("people[skills=bench].skills", ["load", "unload"], "add"),
                   edit("people[SET-1].duties", "Mon-Fri 09:00-09:15;Mon-Fri 10:00-14:00"),
                   edit("people[HLP-1].duties", "Mon-Fri 06:00-08:00;Mon-Fri 09:00-09:15;Mon-Fri 12:00-14:00"),
                   edit("people[PRG-1].duties", "Mon-Fri 09:00-14:00")],
        ),
        option(
            "N14", "One bench post; the late operator breaks out", LOW, (0, 0, 0), lead=6, excludes=["C1"],
            note="The late bench post goes, and its work is the operator's when the machine needs nobody. Forgotten: "
                 "notice, and sheets that wait. Loses where the bench is short of people.",
            edits=[remove_row("people[BEN-L]"), edit("people[OP-L].skills", ["bench"], "add")],
        ),
    ]  # fmt: skip
