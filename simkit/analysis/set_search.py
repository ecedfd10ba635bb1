"""Search for the best set of options: forward while a step surely gains, backward while leaving out loses nothing.

The search knows neither money nor the cell: a :class:`SetScores` simulates sets and scores them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from simkit.analysis.option_sets import Options
from simkit.experiment.intervals import Estimate

DECIMALS = 2
"""Scores that agree to so many decimals are equal: sums in another order differ in the last digits of a double."""


class SetScores(Protocol):
    """What scores sets; ``()`` is today and always known."""

    @property
    def known(self) -> Iterable[Options]:
        """Sets that were simulated."""

    def add(self, sets: Iterable[Options]) -> None:
        """Simulate what is not known yet."""

    def why_illegal(self, options: Options) -> str:
        """Why these options cannot go together, or an empty text."""

    def why_not(self, options: Options) -> str:
        """Why a known set cannot be recommended, or an empty text."""

    def score(self, options: Options) -> float:
        """How good a known set is; more is better, today is 0."""

    def gain(self, options: Options, against: Options) -> Estimate:
        """Paired difference of the scores of two known sets."""

    def cost(self, options: Options) -> tuple[float, float]:
        """What decides between equal scores, less is better: capital, then hours."""


def search(board: SetScores, names: Sequence[str], rival: Callable[[], Options] = tuple) -> Options:
    """Return the best set of ``names``, in their order.

    A forward step takes the option with the largest gain whose interval excludes zero. Backward, a member goes
    whose removal raises the score or leaves it equal, and so do several at once where a smaller set that was
    simulated is as good; then forward again. Options that gain little alone can gain much together: ``rival`` gives a
    large set, once the single options are known, and where it surely gains over the package found, the search goes on
    from it. Only legal sets that can be recommended compete; ties go by capital, then by hours.
    """
    found = _Search(board, tuple(names))
    package = found.settle(found.grow(()))
    large = found.rival_of(package, rival())
    return found.settle(large) if large else package


@dataclass
class _Search:
    board: SetScores
    names: Options
    last: dict[str, Estimate] = field(default_factory=dict)
    lost: set[str] = field(default_factory=set)

    def settle(self, package: Options) -> Options:
        """Backward and forward steps by turns, until neither changes the set."""
        while (shrunk := self.shrink(package)) != package:
            self.lost.clear()
            package = self.grow(shrunk)
        return package

    def rival_of(self, package: Options, options: Options) -> Options:
        """The set to go on from instead of the package: legal, recommendable, and surely better; else none."""
        options = self._ordered(set(options))
        if not set(options) - set(package) or self.board.why_illegal(options):
            return ()
        self.board.add([options])
        better = _surely_gains(self.board.gain(options, package)) and not self.board.why_not(options)
        return options if better else ()

    def grow(self, package: Options) -> Options:
        """Forward steps until none surely gains."""
        while taken := self._step(package):
            package = self._ordered({*package, taken})
        return package

    def _step(self, package: Options) -> str:
        """Try what was never tried, then by last gain the rest, as long as one of them might beat the best so far.

        Gains mostly shrink as a package grows, so an option whose last gain is below the best so far can wait, and
        one that surely lost is not tried again before a member has gone.
        """
        left = [name for name in self.names if name not in package]
        sets = {name: self._ordered({*package, name}) for name in left}
        legal = [name for name in left if not self.board.why_illegal(sets[name])]
        waiting = sorted((n for n in legal if n in self.last and n not in self.lost), key=self._last_gain)
        gains: dict[str, Estimate] = {}

        def attempt(batch: Sequence[str]) -> None:
            self.board.add([sets[name] for name in batch])
            gains.update({name: self.board.gain(sets[name], package) for name in batch})

        attempt([name for name in legal if name not in self.last])
        best = self._best(gains, sets)
        while waiting and (not best or self.last[waiting[-1]].mean > gains[best].mean):
            attempt([waiting.pop()])
            best = self._best(gains, sets)
        self.last |= gains
        self.lost |= {name for name, gain in gains.items() if round(gain.high, DECIMALS) < 0}
        return best

    def _last_gain(self, name: str) -> float:
        return self.last[name].mean

    def _best(self, gains: Mapping[str, Estimate], sets: Mapping[str, Options]) -> str:
        able = [n for n, gain in gains.items() if _surely_gains(gain) and not self.board.why_not(sets[n])]
        return max(able, key=lambda name: self._rank(sets[name]), default="")

    def _rank(self, options: Options) -> tuple[float, float, float]:
        capital, hours = self.board.cost(options)
        return round(self.board.score(options), DECIMALS), -capital, -hours

    def shrink(self, package: Options) -> Options:
        """Backward steps until every smaller set that was simulated is worth less."""
        while package:
            without = {name: self._ordered(set(package) - {name}) for name in package}
            without = {name: rest for name, rest in without.items() if not self.board.why_illegal(rest)}
            self.board.add(without.values())
            self._without_all_that_add_nothing(package, without)
            smaller = [s for s in self.board.known if set(s) < set(package) and not self.board.why_not(s)]
            best = max(smaller, key=self._rank)
            if self._rank(best)[0] < self._rank(package)[0]:
                return package
            package = best
        return package

    def _without_all_that_add_nothing(self, package: Options, without: Mapping[str, Options]) -> None:
        """Simulate the set without all members at once whose removal loses nothing: a step instead of many."""
        score = self._rank(package)[0]
        idle = {name for name, rest in without.items() if self._rank(rest)[0] >= score}
        rest = self._ordered(set(package) - idle)
        if len(idle) > 1 and not self.board.why_illegal(rest):
            self.board.add([rest])

    def _ordered(self, options: set[str]) -> Options:
        return tuple(name for name in self.names if name in options)


def _surely_gains(gain: Estimate) -> bool:
    return gain.tells and round(gain.mean, DECIMALS) > 0
