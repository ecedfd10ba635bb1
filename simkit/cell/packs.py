"""Sheets at hand: the opened pack of each material at a machine, and the packs in the store. Told the moment; no clock.

A material without ``sheets_per_pack`` never runs out, and a store without ``packs`` neither. An opened pack keeps
its rest when another material takes its place. The store brings one pack at a time, whichever machine asks.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

IsDone = Callable[[Any], bool]
"""Tells whether a request for somebody's work is done."""


class Packs:
    """Opened packs at one machine; ``per_pack`` are sheets of a full pack by material row, 0 for one without end."""

    def __init__(self, per_pack: list[int]) -> None:
        self._per_pack = per_pack
        self._left: dict[int, int] = {}

    def is_open(self, material: int) -> bool:
        """Whether a sheet of the material can be taken."""
        return self._per_pack[material] == 0 or self._left.get(material, 0) > 0

    def is_used(self, material: int) -> bool:
        """Whether a pack that ends has given sheets."""
        return self._left.get(material, self._per_pack[material]) < self._per_pack[material]

    def open(self, material: int) -> None:
        """A full pack stands there now."""
        self._left[material] = self._per_pack[material]

    def use(self, material: int) -> None:
        """One sheet is taken."""
        if self._per_pack[material]:
            self._left[material] -= 1


class Store:
    """Full packs of every material that the store keeps, and when its exchanger is free."""

    def __init__(self, packs: int, is_done: IsDone) -> None:
        self.packs, self._is_done = packs, is_done
        self._free_s = 0.0
        self._taken: dict[int, int] = {}
        self._asked: dict[int, list[list[Any]]] = {}

    def book(self, now_s: float, seconds: float) -> float:
        """Book the exchanger for so long; return when it has done."""
        self._free_s = max(self._free_s, now_s) + seconds
        return self._free_s

    def has_pack(self, material: int) -> bool:
        """Whether a full pack of the material is there."""
        filled = sum(self._is_filled(requests) for requests in self._asked.get(material, ()))
        return self.packs == 0 or self.packs + filled > self._taken.get(material, 0)

    def take(self, material: int, requests: list[Any]) -> None:
        """Take a full pack; ``requests`` ask for one to be put in its place."""
        self._taken[material] = self._taken.get(material, 0) + 1
        self._asked.setdefault(material, []).append(requests)

    def next_filled(self, material: int) -> Any:
        """The request whose end brings the next pack; None where none is asked for."""
        open_ones = (request for requests in self._asked.get(material, ()) for request in requests)
        return next((request for request in open_ones if not self._is_done(request)), None)

    def _is_filled(self, requests: list[Any]) -> bool:
        return all(self._is_done(request) for request in requests)
