"""The live view of a flight in a terminal: what is the state, how old is it, who hears it, what is wrong."""

from __future__ import annotations

import math
import textwrap
import threading
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from typing import NamedTuple

from rich.console import Console, ConsoleOptions, RenderResult
from rich.live import Live
from rich.text import Text

from pappus.inflight import Watched, watch
from pappus.sources import ReceiverSetting, Sender
from pappus.store import FlightStore
from pappus.tracking import Estimate, Estimator, Phase
from pappus.units import say_duration, say_height, say_position, say_speed, zero_celsius_k

STALE_S = 30.0
"""From this age on a number is called stale."""
SILENT_S = 120.0
"""From this age of the position on the phase is only that in which the balloon was last heard."""
REFRESH_S = 0.5
PRINT_EVERY_S = 60.0
_NAME_WIDTH = 9
_NARROW = 56
_SETTLED = (Phase.LANDED, Phase.GROUND)


class Line(NamedTuple):
    """One thing to say. ``rank``: the highest go first where the terminal is too small for all."""

    name: str
    value: str
    rank: int
    style: str = ""


def watch_lines(watched: Watched, now_utc: datetime) -> list[Line]:
    """All that the view says, from the top down."""
    lines = list(_troubles(watched))
    estimate = watched.estimate
    if estimate is None:
        waiting = "Nothing heard yet." if watched.catching_up is None else "Nothing heard since the start."
        lines.insert(0, Line("", f"NO POSITION  {waiting}", 0, "bold"))
    else:
        lines = [*_state(estimate, now_utc), *lines, *_rest(estimate, now_utc)]
    lines += _receivers(watched, estimate, now_utc)
    if estimate is not None:
        # the most pressing comes first, and stays where there is little room
        lines += [Line("warning", note, 5 if index else 1) for index, note in enumerate(estimate.notes)]
        lines += [
            Line("refused", f"{fix.tracker or 'a tracker'}, newest packet: {why}", 6) for fix, why in estimate.refused
        ]
    return lines


def _age(when: datetime, now_utc: datetime) -> str:
    """``"3 s"``; stale and wrong clocks are named."""
    seconds = (now_utc - when).total_seconds()
    if seconds < -1.0:
        return f"CLOCK: {say_duration(-seconds)} in the future"
    said = say_duration(max(0.0, seconds))
    return f"STALE {said}" if seconds > STALE_S else said


def _state(estimate: Estimate, now_utc: datetime) -> Iterator[Line]:
    since = "" if estimate.phase_since_utc is None else f"  since {estimate.phase_since_utc:%H:%M:%S}Z"
    place, motion = estimate.position, estimate.motion
    if place is None:
        yield Line("", "NO POSITION  packets are heard, and no place in them could be believed", 0, "bold")
        return
    yield Line("", _phase(estimate.phase, since, (now_utc - place.time_utc).total_seconds()), 0, "bold")
    unsure = ("" if place.confirmed else " NOT CONFIRMED") + ("" if place.checked else " UNCHECKED")
    yield Line("place", f"{say_position(place.latitude_deg, place.longitude_deg)}  {place.tracker}{unsure}", 0, "bold")
    yield Line("age", f"measured {_age(place.time_utc, now_utc)}, heard {_age(place.heard_utc, now_utc)}", 0, "bold")
    if motion is None:
        yield Line("height", "- no packet tells it", 0)
        return
    # most fixes tell a height; where the newest does not, its age is another
    older = "" if motion.time_utc == place.time_utc else f"  {_age(motion.time_utc, now_utc)}"
    yield Line("height", f"{say_height(motion.height_msl_m)} ±{motion.height_sd_m:.0f} m{older}", 0, "bold")
    yield Line("climb", f"{say_speed(motion.climb_m_s)} ±{motion.climb_sd_m_s:.1f}", 1)
    speed, course = motion.speed_m_s, motion.course_deg
    if speed is None or course is None or motion.drift_sd_m_s is None:
        yield Line("drift", "- one fix is not enough", 2)
    elif estimate.phase in _SETTLED and speed < 3.0 * motion.drift_sd_m_s:
        yield Line("drift", "none", 2)
    else:
        yield Line("drift", f"{say_speed(speed)} ±{motion.drift_sd_m_s:.1f} towards {course:03.0f}°", 2)


def _phase(phase: Phase, since: str, age_s: float) -> str:
    """Of a balloon in the air that is silent only the phase that it was in is known."""
    if phase is Phase.NOT_KNOWN:
        return "PHASE NOT KNOWN YET"
    silent = age_s > SILENT_S and phase not in _SETTLED
    return f"NOT HEARD  {phase.value} when last heard{since}" if silent else f"{phase.value.upper()}{since}"


def _rest(estimate: Estimate, now_utc: datetime) -> Iterator[Line]:
    start = estimate.fall_start
    if start is not None:
        told = f"{start.time_utc:%H:%M:%S}Z ±{start.time_sd_s:.0f} s at {say_height(start.height_msl_m)}"
        yield Line("burst", f"{told} (or cut-down)", 2)
    elif estimate.highest_msl_m is not None:
        yield Line("highest", say_height(estimate.highest_msl_m), 4)
    if estimate.landed_utc is not None:
        yield Line("landed", f"{estimate.landed_utc:%H:%M:%S}Z, {say_duration_since(estimate.landed_utc, now_utc)}", 1)
    elif estimate.release_utc is not None:
        since = say_duration_since(estimate.release_utc, now_utc)
        yield Line("released", f"{estimate.release_utc:%H:%M:%S}Z, {since}", 3)
    if estimate.wind and estimate.phase not in _SETTLED:
        layer = max(estimate.wind, key=lambda one: one.time_utc)
        speed = math.hypot(layer.wind_u_m_s, layer.wind_v_m_s)
        comes_from = math.degrees(math.atan2(-layer.wind_u_m_s, -layer.wind_v_m_s)) % 360.0
        where = f"{layer.low_msl_m / 1000:.2f} to {layer.high_msl_m / 1000:.2f} km"
        yield Line("wind", f"{speed:.1f} ±{layer.wind_sd_m_s:.1f} m/s from {comes_from:03.0f}° at {where}", 3)
    chosen = estimate.chosen
    if chosen is not None and chosen.told_utc is not None:
        battery = [] if chosen.battery_v is None else [f"battery {chosen.battery_v:.2f} V"]
        warm = [f"{name} {kelvin - zero_celsius_k:.0f} °C" for name, kelvin in sorted(chosen.temperature_k.items())]
        yield Line("box", f"{', '.join([*battery, *warm])}  {_age(chosen.told_utc, now_utc)}", 3)
    for other in estimate.trackers:
        if chosen is None or other.tracker == chosen.tracker:
            continue
        apart = next((one for one in estimate.apart if one.tracker == other.tracker), None)
        fixed = "no fix believed" if other.fix_utc is None else f"fix {_age(other.fix_utc, now_utc)}"
        beside = "" if apart is None else f", {apart.distance_m:.0f} m apart" + ("" if apart.agrees else " DISAGREES")
        yield Line("also", f"{other.tracker}: {fixed}{beside}", 4)


def say_duration_since(when: datetime, now_utc: datetime) -> str:
    """``"14 min ago"``."""
    return f"{say_duration(max(0.0, (now_utc - when).total_seconds()))} ago"


def _troubles(watched: Watched) -> Iterator[Line]:
    if watched.catching_up is not None:
        done, packets = watched.catching_up.done, watched.catching_up.packets
        yield Line("", f"CATCHING UP  {done:,} of {packets:,} packets; phase and winds are not the whole flight's", 0)
    safety = watched.safety
    if not safety.safe:
        lost = f", {safety.given_up} lost" if safety.given_up else ""
        yield Line("DISK", f"{safety.waiting} packets are not on the disk{lost}: {safety.why}", 0, "bold")
    if watched.faults:
        yield Line("fault", f"{watched.faults} inside, last: {watched.last_fault}", 5)


def _receivers(watched: Watched, estimate: Estimate | None, now_utc: datetime) -> Iterator[Line]:
    listeners = {} if estimate is None else {one.receiver: one for one in estimate.listeners}
    for state in watched.receivers:
        listener = listeners.pop(state.name, None)
        age = state.last_heard_age_s
        heard = "nothing heard" if age is None else f"STALE {say_duration(age)}" if age > STALE_S else say_duration(age)
        retry = "" if state.retry_in_s is None else f", again in {math.ceil(state.retry_in_s)} s"
        wrong = f", {state.last_error}" if state.last_error else ""
        told = "" if listener is None else _what_it_hears(listener.hears, listener.not_understood)
        yield Line("receiver", f"{state.name}: {state.phase}{retry}, {heard}{told}{wrong}", 2)
    for one in listeners.values():
        # from the store: another computer's, or one that is not set up any more
        told = _what_it_hears(one.hears, one.not_understood)
        yield Line("receiver", f"{one.receiver}: {_age(one.heard_utc, now_utc)}{told}", 4)


def _what_it_hears(hears: Sequence[str], not_understood: int) -> str:
    bad = f", {not_understood} not understood" if not_understood else ""
    return (f", hears {', '.join(hears)}" if hears else "") + bad


class WatchView:
    """The newest state, drawn to fit the terminal as it is at that moment."""

    def __init__(self, clock: Callable[[], datetime]) -> None:
        self._clock = clock
        self._watched: Watched | None = None

    def show(self, watched: Watched) -> None:
        """Take a new state; from any thread."""
        self._watched = watched

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        watched, now_utc = self._watched, self._clock()
        if watched is None:
            yield Text("Starting.")
            return
        head = Line("", f"{now_utc:%H:%M:%S}Z  Ctrl-C ends the watch; all that was heard is kept.", 6, "dim")
        height = options.height or console.size.height
        yield from _fitted([head, *watch_lines(watched, now_utc)], options.max_width, height)


def _fitted(lines: Sequence[Line], width: int, height: int) -> list[Text]:
    """As many lines as there is room for, the most needed ones; what is left out is said."""
    drawn = [_drawn(line, width) for line in lines]
    room, kept = height - 1, set[int]()
    for rank in range(7):
        for index, line in enumerate(lines):
            if line.rank == rank and len(drawn[index]) <= room:
                kept.add(index)
                room -= len(drawn[index])
    shown = [text for index, texts in enumerate(drawn) if index in kept for text in texts]
    missing = len(lines) - len(kept)
    if missing:
        shown.append(Text(f"{missing} more: make the window taller"[:width], style="dim"))
    return shown


def _drawn(line: Line, width: int) -> list[Text]:
    """A line, folded under its own beginning."""
    if not line.name:
        return [Text(part, style=line.style) for part in textwrap.wrap(line.value, width) or [""]]
    indent = 2 if width < _NARROW else _NAME_WIDTH
    parts = textwrap.wrap(line.value, max(10, width - indent), break_long_words=True) or [""]
    if width < _NARROW and len(line.name) + 1 + len(line.value) > width:
        texts = [Text(line.name, style="dim")]
        return texts + [Text(" " * indent + part, style=line.style) for part in parts]
    first = Text(f"{line.name:<{_NAME_WIDTH}}" if width >= _NARROW else f"{line.name} ", style="dim")
    first.append(parts[0], style=line.style)
    return [first, *(Text(" " * indent + part, style=line.style) for part in parts[1:])]


def live_watch(
    store: FlightStore,
    settings: Sequence[ReceiverSetting],
    make_estimator: Callable[[], Estimator],
    ended: threading.Event,
    *,
    senders: Sequence[Sender] = (),
    console: Console | None = None,
) -> Watched | None:
    """Watch a flight on the screen until ``ended``; gives the last state.

    A terminal that cannot be redrawn, such as a file, gets the lines once a minute instead.
    """
    screen = Console(highlight=False) if console is None else console
    view, newest = WatchView(lambda: datetime.now(UTC)), list[Watched]()

    def publish(watched: Watched) -> None:
        newest[:] = [watched]
        view.show(watched)

    with watch(store, settings, make_estimator, publish, senders=senders):
        if screen.is_terminal:
            with Live(view, console=screen, screen=True, auto_refresh=False) as live:
                while not ended.wait(REFRESH_S):
                    live.refresh()
        else:
            while not ended.wait(REFRESH_S if not newest else PRINT_EVERY_S):
                if newest:
                    screen.print(view)
    if newest and not screen.is_terminal:
        screen.print(view)
    return newest[0] if newest else None
