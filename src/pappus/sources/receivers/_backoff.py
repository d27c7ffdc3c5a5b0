"""How long to wait before trying again."""

from __future__ import annotations

import random

SHORTEST_S, LONGEST_S = 0.5, 30.0


class BackOff:
    """Waits that double from 0.5 to 30 s, each shortened by up to a half at random: receivers do not move in step.

    The seed makes the waits repeatable.
    """

    def __init__(self, seed: int | str, shortest_s: float = SHORTEST_S, longest_s: float = LONGEST_S) -> None:
        self._random, self._shortest_s, self._longest_s = random.Random(seed), shortest_s, longest_s
        self._tries = 0

    def next_s(self) -> float:
        """The next wait."""
        whole_s = min(self._longest_s, self._shortest_s * 2.0 ** min(self._tries, 30))
        self._tries += 1
        return whole_s * self._random.uniform(0.5, 1.0)

    def reset(self) -> None:
        """It worked: start short the next time."""
        self._tries = 0
