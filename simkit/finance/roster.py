"""Who is paid to be in the cell: posts, their weekly hours and what they cost.

Paid hours are those of the ordinary week without breaks, duties elsewhere and calls to other cells; loaded rates
are per such hour. Who leaves for other cells whenever nothing waits here is paid in full, since only a simulation
tells how long that is, but is no whole post. Hours on call count by ``people.standby_share``: so many hours of pay.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from dataclasses import dataclass

from simkit.base.units import SECONDS_PER_DAY, SECONDS_PER_HOUR
from simkit.base.vocabulary import ALWAYS, ON_CALL
from simkit.plant.plant import PlantInputs
from simkit.plant.settings import Settings
from simkit.plant.tables import Person
from simkit.process.shifts import Span, merged, plan_shifts, without

NIGHT_FROM_H, NIGHT_TO_H = 22.0, 6.0
"""Hours of the day between which the night premium is paid (common practice, no source)."""

WHOLE_SHARE = 0.85
"""Share of a shift's length from which a person's hours in the cell make a whole post: the rest are breaks, which a
plant may write as duties of the person, as when they are staggered (common practice, no source)."""

_ANY_MONDAY = dt.date(2024, 1, 1)
_NIGHTS: tuple[Span, ...] = tuple(
    (
        day * SECONDS_PER_DAY + NIGHT_FROM_H * SECONDS_PER_HOUR,
        (day + 1) * SECONDS_PER_DAY + NIGHT_TO_H * SECONDS_PER_HOUR,
    )
    for day in range(-1, 8)
)
"""The nights of a week, s."""


@dataclass(frozen=True)
class Post:
    """One person's place in the cell. ``whole`` is false if duties elsewhere take more of the shift than breaks do.

    ``agency``: paid by the hour on an invoice, so that parts of the post can be given up. ``absence_share`` is the
    share of the shifts that the person misses and is paid for.
    """

    person_id: str
    shift: str
    skills: tuple[str, ...]
    rate_per_h: float
    day_h_per_week: float
    night_h_per_week: float = 0.0
    whole: bool = True
    agency: bool = False
    absence_share: float = 0.0

    @property
    def h_per_week(self) -> float:
        """Paid hours in an ordinary week, h."""
        return self.day_h_per_week + self.night_h_per_week

    @property
    def present_h_per_week(self) -> float:
        """Paid hours in which the person is there, in a mean week, h."""
        return self.h_per_week * (1.0 - self.absence_share)

    def cost_per_week(self, night_premium: float) -> float:
        """Loaded cost of an ordinary week, money."""
        return self.rate_per_h * (self.day_h_per_week + self.night_h_per_week * (1.0 + night_premium))

    def rate_with_nights(self, night_premium: float) -> float:
        """Loaded cost of a paid hour, the mean of day and night, money."""
        return self.cost_per_week(night_premium) / self.h_per_week


@dataclass(frozen=True)
class Roster:
    """All posts of a scenario, who works overtime, and the attended hours of a working day.

    ``overtime_people`` names who comes to overtime; empty: the whole shift ``overtime_shift``.
    """

    posts: tuple[Post, ...] = ()
    overtime_shift: str = ""
    attended_h_per_day: float = 0.0
    overtime_people: tuple[str, ...] = ()

    @property
    def by_person(self) -> dict[str, Post]:
        """Posts by person."""
        return {post.person_id: post for post in self.posts}

    def h_per_week(self, person_id: str) -> float:
        """Paid hours of a person in an ordinary week, h; 0 of somebody who is not on it."""
        return self.by_person[person_id].h_per_week if person_id in self.by_person else 0.0

    @property
    def crew_rate_per_h(self) -> float:
        """What those who work overtime cost together, money per hour without premium.

        Of a whole shift, people with duties elsewhere are left out: the cell does not pay them to come in.
        """
        if self.overtime_people:
            return sum(post.rate_per_h for post in self.posts if post.person_id in self.overtime_people)
        crew = (post for post in self.posts if post.whole and post.shift in (self.overtime_shift, ALWAYS))
        return sum(post.rate_per_h for post in crew)


def roster_of(plant: PlantInputs) -> Roster:
    """Return the roster of a plant's (or scenario's plant's) ordinary week."""
    plan = plan_shifts(_ordinary_week(plant), 7)
    manned = merged(span for person in plan.person for span in person)
    settings = plant.settings
    names = [shift.name for shift in settings.calendar.shifts]
    spans = {name: tuple((a, b) for own, a, b in plan.shift_spans if own == name) for name in names}
    posts = tuple(
        _post(
            person,
            {ALWAYS: plan.attended, ON_CALL: plan.nights}.get(person.shift, windows),
            _length_h(plan.attended if person.shift == ALWAYS else spans.get(person.shift, ())),
            settings,
        )
        for person, windows in zip(plant.people, plan.person, strict=True)
    )
    attended = _overlap_h(plan.attended, manned) if manned else _length_h(plan.attended)
    days = max(len(plan.open_days), 1)
    shift = settings.calendar.overtime_shift or (names[0] if names else "")
    return Roster(posts, shift, attended / days, settings.calendar.overtime_people)


def roster_problem(today: Roster, option: Roster, minimum_attendance: int) -> str:
    """Why a reduced roster cannot be kept: too few people in a shift it still works, or a skill nobody covers."""
    for shift in {post.shift for post in option.posts}:
        present = sum(post.shift == shift for post in option.posts)
        if present < min(minimum_attendance, sum(post.shift == shift for post in today.posts)):
            return f"only {present} in shift {shift}, minimum {minimum_attendance}"
    lost = {s for post in today.posts for s in post.skills} - {s for post in option.posts for s in post.skills}
    return f"nobody left for {', '.join(sorted(lost))}" if lost else ""


def _ordinary_week(plant: PlantInputs) -> PlantInputs:
    """The plant without closed and changed days, in a week without a clock change."""
    settings = plant.settings
    calendar = settings.calendar.model_copy(update={"closed_days": ()})
    run = settings.run.model_copy(update={"start_monday": _ANY_MONDAY})
    plain = settings.model_copy(update={"calendar": calendar, "run": run, "time_zone": "UTC"})
    return dataclasses.replace(plant, settings=plain, calendar=())


def _post(person: Person, windows: tuple[Span, ...], shift_h: float, settings: Settings) -> Post:
    rate = person.rate_per_h or settings.money.operator_rate_per_h
    post = Post(person.person_id, person.shift, tuple(person.skills), rate, 0.0, agency=person.employment == "agency")
    night, hours = _overlap_h(windows, _NIGHTS), _length_h(windows)
    if person.shift == ON_CALL:
        return dataclasses.replace(post, day_h_per_week=hours * settings.people.standby_share, whole=False)
    here = 1.0 - min(person.share_called, 1.0)
    return dataclasses.replace(
        post,
        day_h_per_week=(hours - night) * here,
        night_h_per_week=night * here,
        whole=not person.elsewhere_min and (not person.duties.strip() or hours >= WHOLE_SHARE * shift_h > 0),
        absence_share=person.absence_share,
    )


def _length_h(spans: tuple[Span, ...]) -> float:
    return sum(end - start for start, end in spans) / SECONDS_PER_HOUR


def _overlap_h(spans: tuple[Span, ...], others: tuple[Span, ...]) -> float:
    return _length_h(spans) - _length_h(without(spans, others))
