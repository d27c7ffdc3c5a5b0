"""The four shapes: told apart without colour."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np
import pytest

from pappus.export import STATES
from pappus.export._signs import STATE_HUES, draw_sign, require_state


def drawn(state: Any) -> Any:
    """Where the sign is not paper: what is left of it when every hue becomes black."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure((1.0, 1.0), dpi=48)
    canvas = FigureCanvasAgg(figure)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set(xlim=(-1.3, 1.3), ylim=(-1.3, 1.3))
    axes.axis("off")
    draw_sign(axes, state, 0.0, 0.0, 1.0)
    canvas.draw()
    return np.asarray(canvas.buffer_rgba())[..., :3].min(axis=-1) < 200


def test_shapes_differ_in_black_and_white() -> None:
    """A fifth of all that either covers differs, for every two of the four."""
    masks = {state: drawn(state) for state in STATES}
    for one, other in combinations(STATES, 2):
        either = masks[one] | masks[other]
        assert np.mean((masks[one] ^ masks[other])[either]) > 0.2, (one, other)


def test_a_shape_says_what_it_is_called() -> None:
    go, wait, no_go, cannot = (drawn(state) for state in STATES)
    middle = 24
    assert go[middle, middle]
    assert wait[middle, middle - 8]
    assert not wait[middle, middle + 8]
    assert not no_go[middle, middle]
    assert no_go[middle - 8, middle]
    assert no_go[middle - 14, middle - 14]
    assert not go[middle - 14, middle - 14]
    assert not cannot[middle, middle]
    assert cannot.any()


def test_hues_are_those_that_colour_blind_people_tell_apart() -> None:
    """Okabe & Ito 2008, Color Universal Design: bluish green, orange, vermillion as sRGB 0 to 255."""
    published = {"go": (0, 158, 115), "wait": (230, 159, 0), "no-go": (213, 94, 0)}
    for state, hue in published.items():
        assert tuple(int(STATE_HUES[state][k : k + 2], 16) for k in (1, 3, 5)) == hue


def test_another_word_is_refused() -> None:
    with pytest.raises(ValueError, match="must be one of go, wait, no-go, cannot tell"):
        require_state("answer", "yes")
