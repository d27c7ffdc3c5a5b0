"""Chances in words: nothing that is only nearly sure is said to be sure."""

from __future__ import annotations

import pytest

from pappus.landing import share
from pappus.preflight.papers._ground_words import _in_zone, _percent


@pytest.mark.parametrize(
    ("hits", "of", "said"),
    [(0, 1000, "0 %"), (1, 10_000, "< 0.1 %"), (3, 1000, "0.3 %"), (512, 1000, "51 %"), (995, 1000, "99.5 %"),
     (9_999, 10_000, "> 99.9 %"), (1000, 1000, "100 %")],
)  # fmt: skip
def test_only_all_is_100_and_only_none_is_0(hits: int, of: int, said: str) -> None:
    assert _percent(share(hits, of)) == said


def test_a_zone_that_names_its_role_is_not_named_twice() -> None:
    assert _in_zone("keep-out", "Keep-out: reserve") == "in Keep-out: reserve"
    assert _in_zone("keep-out", "reserve") == "in keep-out reserve"
