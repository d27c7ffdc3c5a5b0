"""The four states: each has a word, a shape and a hue, and none is ever told by its hue alone."""

from __future__ import annotations

from typing import Any, Literal, get_args

from pappus.export._look import GREEN, INK, PAPER, VERMILLION

State = Literal["go", "wait", "no-go", "cannot tell"]
STATES: tuple[State, ...] = get_args(State)
ORANGE = "#e69f00"
STATE_HUES: dict[State, str] = {"go": GREEN, "wait": ORANGE, "no-go": VERMILLION, "cannot tell": PAPER}
"""Okabe & Ito 2008; every shape has a rim of ink, since orange on paper has a contrast of 2:1 only."""
STATE_SHAPES: dict[State, str] = {
    "go": "filled disc", "wait": "half disc", "no-go": "barred square", "cannot tell": "hollow diamond",
}  # fmt: skip
SQUARE, BAR, DIAMOND = 0.9, (0.62, 0.17), 1.12
"""Half a side of the square, half width and half height of its bar, half a diagonal: in radii of the disc, so that
the four look equally large."""


def require_state(name: str, state: str) -> State:
    """The state, or a ``ValueError`` that names the four."""
    if state not in STATES:
        raise ValueError(f"{name} is {state!r}; it must be one of {', '.join(STATES)}")
    return state


def draw_sign(axes: Any, state: State, x: float, y: float, radius: float, *, rim_pt: float = 1.1) -> None:
    """One shape on axes whose two directions have the same scale; ``radius`` is in their unit."""
    from matplotlib.patches import Circle, Polygon, Rectangle, Wedge

    hue = STATE_HUES[state]
    rim: dict[str, Any] = {"edgecolor": INK, "linewidth": rim_pt, "zorder": 6}
    shapes: list[Any]
    if state == "go":
        shapes = [Circle((x, y), radius, facecolor=hue, **rim)]
    elif state == "wait":
        shapes = [
            Circle((x, y), radius, facecolor=PAPER, **rim),
            Wedge((x, y), radius, 90.0, 270.0, facecolor=hue, **rim),
        ]
    elif state == "no-go":
        side, (wide, high) = SQUARE * radius, (BAR[0] * radius, BAR[1] * radius)
        shapes = [
            Rectangle((x - side, y - side), 2 * side, 2 * side, facecolor=hue, **rim),
            Rectangle((x - wide, y - high), 2 * wide, 2 * high, **(rim | {"facecolor": PAPER, "linewidth": 0.0})),
        ]
    else:
        reach = DIAMOND * radius
        corners = [(x - reach, y), (x, y + reach), (x + reach, y), (x, y - reach)]
        shapes = [Polygon(corners, closed=True, facecolor=hue, **(rim | {"linewidth": 1.6 * rim_pt}))]
    for shape in shapes:
        axes.add_patch(shape)


def svg_sign(state: State) -> str:
    """The shape for a page, as high as its letters; hidden from screen readers, since the word stands beside it."""
    hue = STATE_HUES[state]
    if state == "go":
        shape = f'<circle class="rim" cx="12" cy="12" r="9" fill="{hue}"/>'
    elif state == "wait":
        shape = (
            '<circle class="rim paper" cx="12" cy="12" r="9"/>'
            f'<path class="rim" d="M12 3A9 9 0 0 0 12 21Z" fill="{hue}"/>'
        )
    elif state == "no-go":
        shape = (
            f'<rect class="rim" x="3.9" y="3.9" width="16.2" height="16.2" fill="{hue}"/>'
            '<rect class="paper" x="6.4" y="10.4" width="11.2" height="3.2"/>'
        )
    else:
        shape = '<path class="rim hollow" d="M12 1.9L22.1 12L12 22.1L1.9 12Z"/>'
    return f'<svg class="sign" viewBox="0 0 24 24" aria-hidden="true" focusable="false">{shape}</svg>'
