"""Before the flight: from a plan and the winds to a briefing."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pappus.preflight._brief import brief, landed_area
    from pappus.preflight._given import Asked, Given
    from pappus.preflight._judge import (
        Judged,
        brief_release,
        curves_of,
        fly_plan_window,
        judge_cell,
        judge_release,
        papers_of,
    )
    from pappus.preflight._open import open_cell
    from pappus.preflight.briefing import (
        Briefing,
        ClimbLayer,
        NearestPlace,
        RunLanding,
        Unknown,
        after,
        briefing_json,
        briefing_page,
        say_chance,
        say_near,
        three_lines,
    )
    from pappus.preflight.fill import Consequence, FillCard, fill_card, fill_page
    from pappus.preflight.pack import (
        Lack,
        PackMaps,
        Wanted,
        centre_names,
        check_pack,
        layers_of,
        make_pack,
        pack_folder,
        pack_page,
        read_maps,
        write_example,
    )
    from pappus.preflight.papers import (
        DECISION,
        Papers,
        answer_state,
        briefing_document,
        decision_page,
        decision_reasons,
        decision_sections,
        due_and_drafts,
        flight_notice,
        judged_table,
        launch_matrix,
        require_folder,
        short_reason,
        state_of,
        to_json,
        window_page,
        write_folder,
    )
    from pappus.preflight.window import (
        AgainstDelay,
        AgainstLift,
        Around,
        LaunchCell,
        LaunchOption,
        LaunchOptions,
        LaunchWindow,
        Law,
        OpenedCell,
        better_neighbours,
        cell_json,
        choose_cell,
        curve_json,
        delay_curve,
        flights_wanted,
        fly_window,
        gather_around,
        launch_options,
        lift_curve,
        window_json,
    )
    from pappus.preflight.winds import Winds, gather_winds, site_of

__all__ = [
    "DECISION",
    "AgainstDelay",
    "AgainstLift",
    "Around",
    "Asked",
    "Briefing",
    "ClimbLayer",
    "Consequence",
    "FillCard",
    "Given",
    "Judged",
    "Lack",
    "LaunchCell",
    "LaunchOption",
    "LaunchOptions",
    "LaunchWindow",
    "Law",
    "NearestPlace",
    "OpenedCell",
    "PackMaps",
    "Papers",
    "RunLanding",
    "Unknown",
    "Wanted",
    "Winds",
    "after",
    "answer_state",
    "better_neighbours",
    "brief",
    "brief_release",
    "briefing_document",
    "briefing_json",
    "briefing_page",
    "cell_json",
    "centre_names",
    "check_pack",
    "choose_cell",
    "curve_json",
    "curves_of",
    "decision_page",
    "decision_reasons",
    "decision_sections",
    "delay_curve",
    "due_and_drafts",
    "fill_card",
    "fill_page",
    "flight_notice",
    "flights_wanted",
    "fly_plan_window",
    "fly_window",
    "gather_around",
    "gather_winds",
    "judge_cell",
    "judge_release",
    "judged_table",
    "landed_area",
    "launch_matrix",
    "launch_options",
    "layers_of",
    "lift_curve",
    "make_pack",
    "open_cell",
    "pack_folder",
    "pack_page",
    "papers_of",
    "read_maps",
    "require_folder",
    "say_chance",
    "say_near",
    "short_reason",
    "site_of",
    "state_of",
    "three_lines",
    "to_json",
    "window_json",
    "window_page",
    "write_example",
    "write_folder",
]

_NAMES = {
    "_brief": (
        "brief", "landed_area",
    ),
    "_given": (
        "Asked", "Given",
    ),
    "_judge": (
        "Judged", "brief_release", "curves_of", "fly_plan_window", "judge_cell", "judge_release", "papers_of",
    ),
    "_open": (
        "open_cell",
    ),
    "briefing": (
        "Briefing", "ClimbLayer", "NearestPlace", "RunLanding", "Unknown", "after", "briefing_json", "briefing_page",
        "say_chance", "say_near", "three_lines",
    ),
    "fill": (
        "Consequence", "FillCard", "fill_card", "fill_page",
    ),
    "pack": (
        "Lack", "PackMaps", "Wanted", "centre_names", "check_pack", "layers_of", "make_pack", "pack_folder",
        "pack_page", "read_maps", "write_example",
    ),
    "papers": (
        "DECISION", "Papers", "answer_state", "briefing_document", "decision_page", "decision_reasons",
        "decision_sections", "due_and_drafts", "flight_notice", "judged_table", "launch_matrix", "require_folder",
        "short_reason", "state_of", "to_json", "window_page", "write_folder",
    ),
    "window": (
        "AgainstDelay", "AgainstLift", "Around", "LaunchCell", "LaunchOption", "LaunchOptions", "LaunchWindow", "Law",
        "OpenedCell", "better_neighbours", "cell_json", "choose_cell", "curve_json", "delay_curve", "flights_wanted",
        "fly_window", "gather_around", "launch_options", "lift_curve", "window_json",
    ),
    "winds": (
        "Winds", "gather_winds", "site_of",
    ),
}  # fmt: skip
_FOUND_IN = {name: part for part, names in _NAMES.items() for name in names}


def __getattr__(name: str) -> object:
    """A part is loaded with the first of its names: who packs or fills does not wait for what judges and prints."""
    if name not in _FOUND_IN:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_FOUND_IN[name]}"), name)
