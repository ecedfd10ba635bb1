"""Search for the best set of options: forward while a step surely gains, backward while leaving out loses nothing.

The search knows neither money nor the cell: a :class:`Board` simulates sets and scores them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, Protocol

from simkit.analysis.low_capital import Options
from simkit.experiment.intervals import Estimate

DECIMALS = 2
"""Scores that agree to so many decimals are equal: sums in another order differ in the last digits of a double."""

TAKEN, LEFT_OUT, STAYS = "taken", "left out: without it the set is worth as much or more", "stays"
NIL = "no gain: the cheaper set stands"
UNSURE = "zero is in the interval: the cheaper set stands"
LOSES = "loses"


class Board(Protocol):
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


@dataclass(frozen=True)
class Trial:
    """A set that was tried beside the package so far: ``changed`` was added to it or left out of it.

    ``gain`` is the paired gain of that move with the half-width of its interval, None where the set is not legal;
    ``why`` says why the move was made or not.
    """

    package: Options
    move: Literal["add", "leave out"]
    changed: Options
    gain: float | None
    half_width: float | None
    taken: bool
    why: str


def search(
    board: Board, names: Sequence[str], rival: Callable[[], Options] = tuple
) -> tuple[Options, tuple[Trial, ...]]:
    """Return the best set of ``names``, in their order, and every trial.

    A forward step takes the option with the largest gain whose interval excludes zero. Backward, a member goes
    whose removal raises the score or leaves it equal, and so do several at once where a smaller set that was
    simulated is as good; then forward again. Options that gain little alone can gain much together: ``rival`` gives a
    large set, once the single options are known, and where it surely gains over the package found, the search goes on
    from it. Only legal sets that can be recommended compete; ties go by capital, then by hours.
    """
    found = _Search(board, tuple(names))
    package = found.settle(found.grow(()))
    large = found.rival_of(package, rival())
    return found.settle(large) if large else package, tuple(found.trail)


@dataclass
class _Search:
    board: Board
    names: Options
    trail: list[Trial] = field(default_factory=list)
    last: dict[str, Estimate] = field(default_factory=dict)
    lost: set[str] = field(default_factory=set)
    told: set[tuple[str, str]] = field(default_factory=set)

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
        gain = self.board.gain(options, package)
        taken = _surely_gains(gain) and not self.board.why_not(options)
        why = TAKEN if taken else self._why_not_taken(gain, options, "")
        more = tuple(name for name in options if name not in package)
        self.trail.append(Trial(package, "add", more, gain.mean, gain.half_width, taken, why))
        return options if taken else ()

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
        refused = {name: why for name in left if (why := self.board.why_illegal(sets[name]))}
        legal = [name for name in left if name not in refused]
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
        self._note_step(package, best, gains, sets, refused)
        return best

    def _last_gain(self, name: str) -> float:
        return self.last[name].mean

    def _best(self, gains: Mapping[str, Estimate], sets: Mapping[str, Options]) -> str:
        able = [n for n, gain in gains.items() if _surely_gains(gain) and not self.board.why_not(sets[n])]
        return max(able, key=lambda name: self._rank(sets[name]), default="")

    def _rank(self, options: Options) -> tuple[float, float, float]:
        capital, hours = self.board.cost(options)
        return round(self.board.score(options), DECIMALS), -capital, -hours

    def _note_step(
        self, package: Options, best: str, gains: Mapping[str, Estimate], sets: Mapping[str, Options],
        refused: Mapping[str, str],
    ) -> None:  # fmt: skip
        for name, why in refused.items():
            if (name, why) not in self.told:
                self.told.add((name, why))
                self.trail.append(Trial(package, "add", (name,), None, None, False, f"not legal: {why}"))
        for name, gain in gains.items():
            why = TAKEN if name == best else self._why_not_taken(gain, sets[name], best)
            self.trail.append(Trial(package, "add", (name,), gain.mean, gain.half_width, name == best, why))

    def _why_not_taken(self, gain: Estimate, options: Options, best: str) -> str:
        if why := self.board.why_not(options):
            return f"not recommendable: {why}"
        if _surely_gains(gain):
            return f"{best} was taken"
        if not round(gain.mean, DECIMALS) and not round(gain.half_width, DECIMALS):
            return NIL
        return LOSES if gain.tells else UNSURE

    def shrink(self, package: Options) -> Options:
        """Backward steps until every smaller set that was simulated is worth less."""
        while package:
            without = {name: self._ordered(set(package) - {name}) for name in package}
            refused = {name: why for name, rest in without.items() if (why := self.board.why_illegal(rest))}
            self.board.add([rest for name, rest in without.items() if name not in refused])
            self._without_all_that_add_nothing(package, {n: s for n, s in without.items() if n not in refused})
            smaller = [s for s in self.board.known if set(s) < set(package) and not self.board.why_not(s)]
            best = max(smaller, key=self._rank)
            goes = self._rank(best)[0] >= self._rank(package)[0]
            self._note_removals(package, without, refused, best if goes else package)
            if not goes:
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

    def _note_removals(
        self, package: Options, without: Mapping[str, Options], refused: Mapping[str, str], kept: Options
    ) -> None:
        moves: dict[Options, Options] = {(name,): rest for name, rest in without.items()}
        if kept != package and kept not in moves.values():
            moves[tuple(name for name in package if name not in kept)] = kept
        for changed, rest in moves.items():
            if why := refused.get(changed[0], "") if len(changed) == 1 else "":
                self.trail.append(Trial(package, "leave out", changed, None, None, False, f"not legal without: {why}"))
                continue
            gain, taken = self.board.gain(rest, package), rest == kept
            unfit = self.board.why_not(rest)
            why = LEFT_OUT if taken else f"not recommendable without: {unfit}" if unfit else STAYS
            self.trail.append(Trial(package, "leave out", changed, gain.mean, gain.half_width, taken, why))

    def _ordered(self, options: set[str]) -> Options:
        return tuple(name for name in self.names if name in options)


def _surely_gains(gain: Estimate) -> bool:
    return gain.tells and round(gain.mean, DECIMALS) > 0
