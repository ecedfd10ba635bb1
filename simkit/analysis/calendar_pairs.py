"""Each bought option with each calendar option, and what stands beside such a pair to tell what either adds."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from simkit.analysis.bought_sets import cheaper_variants
from simkit.analysis.cases import OfRow
from simkit.analysis.low_capital import Options, why_illegal
from simkit.plant.options import Option, capital_of
from simkit.plant.plant import Plant


@dataclass(frozen=True)
class CalendarPair(OfRow):
    """A bought option with a calendar option, on top of ``under``: the package and what either needs.

    ``refused`` says why the two do not go together, or not with the package (then ``options`` is empty);
    ``needed`` tells that the calendar option is not legal without the bought one, so that there is no sum of both
    alone; ``physics_hash`` is filled in when the pair was simulated.
    """

    bought: str
    calendar: str
    on_package: bool
    under: Options = ()
    options: Options = ()
    needed: bool = False
    refused: str = ""
    physics_hash: str = ""

    @property
    def without_calendar(self) -> Options:
        """The same set at today's hours."""
        return tuple(name for name in self.options if name != self.calendar)

    @property
    def without_bought(self) -> Options | None:
        """The same set without the bought option, or None where the calendar option needs it."""
        return None if self.needed else tuple(name for name in self.options if name != self.bought)

    @property
    def sets(self) -> tuple[Options, ...]:
        """All that is simulated for the pair: both, each without the other, and what they stand on."""
        if self.refused:
            return ()
        if self.without_bought is None:
            return (self.without_calendar, self.options)
        return (self.under, self.without_calendar, self.without_bought, self.options)


def calendar_pairs(plant: Plant, package: Sequence[str] = ()) -> tuple[CalendarPair, ...]:
    """Every bought option, cheaper variants too, with every calendar option: alone, then on the package.

    A calendar option that needs other options stands with the smallest choice of them beside the bought one: the
    fewest, then no cheaper variants, then the one whose dearest option is cheapest (then its next dearest): only the
    order of quoted capital counts. Calendar options that need nothing come first.
    """
    bought = [option for option in plant.options if option.kind == "bought"]
    calendar = sorted((o for o in plant.options if o.kind == "calendar"), key=lambda option: bool(option.needs))
    return tuple(
        _pair(plant, one, other, tuple(held))
        for held in dict.fromkeys([(), tuple(package)])
        for one in bought
        for other in calendar
    )


def combinations_of_pairs(pairs: Iterable[CalendarPair]) -> tuple[Options, ...]:
    """All sets that these pairs need simulated, each once."""
    return tuple(dict.fromkeys(options for pair in pairs for options in pair.sets))


def _pair(plant: Plant, bought: Option, calendar: Option, package: Options) -> CalendarPair:
    named = (bought.id, calendar.id)
    variants = cheaper_variants(plant) - {bought.id}

    def size(bundle: Options) -> tuple[int, int, list[float]]:
        return len(bundle), len(variants & set(bundle)), _capital(plant, bundle)

    choices = sorted(_bundles(plant, bought, calendar), key=size)
    best = next((bundle for bundle in choices if not why_illegal(plant, (*package, *bundle))), None)
    if best is None:
        return CalendarPair(*named, bool(package), refused=why_illegal(plant, (*package, *choices[0])))
    options = (*package, *best)
    under = tuple(name for name in options if name not in named)
    rest = tuple(name for name in options if name != bought.id)
    needed = bool(why_illegal(plant, rest) or why_illegal(plant, under))
    return CalendarPair(*named, bool(package), under, options, needed)


def _bundles(plant: Plant, bought: Option, calendar: Option) -> Iterator[Options]:
    """Both options with each choice of what they need, in the order of the file."""
    place = {name: at for at, name in enumerate(plant.option_by_id)}
    for chosen in product(_closures(plant, bought), _closures(plant, calendar)):
        yield tuple(sorted({name for part in chosen for name in part}, key=place.__getitem__))


def _closures(plant: Plant, option: Option) -> list[frozenset[str]]:
    """The option with each choice of what it needs, and what that needs in turn."""
    needs = [(need,) if isinstance(need, str) else tuple(need) for need in option.needs]
    found = {
        frozenset({option.id}).union(*path)
        for chosen in product(*needs)
        for path in product(*(_closures(plant, plant.option_by_id[name]) for name in chosen))
    }
    return sorted(found, key=sorted)


def _capital(plant: Plant, options: Options) -> list[float]:
    """Quoted capital of each option, the dearest first."""
    return sorted((capital_of([plant.option_by_id[name]]) for name in options), reverse=True)
