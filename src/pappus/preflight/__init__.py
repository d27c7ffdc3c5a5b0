"""Before the flight: from a plan and the winds to a briefing."""

from pappus.preflight._brief import brief, landed_area, site_of
from pappus.preflight._briefing import Briefing, ClimbLayer, NearestPlace, RunLanding, Unknown
from pappus.preflight._briefing_page import briefing_page
from pappus.preflight._decision_words import (
    answer_state,
    decision_page,
    decision_reasons,
    decision_sections,
    judged_table,
    short_reason,
    state_of,
)
from pappus.preflight._document import Papers, briefing_document
from pappus.preflight._document_notices import due_and_drafts, flight_notice
from pappus.preflight._document_pictures import launch_matrix
from pappus.preflight._example import write_example
from pappus.preflight._field_pack import Wanted, centre_names, make_pack, pack_folder
from pappus.preflight._fill_card import Consequence, FillCard, fill_card
from pappus.preflight._fill_page import fill_page
from pappus.preflight._folder import DECISION, require_folder, to_json, write_folder
from pappus.preflight._gather import Winds, gather_winds
from pappus.preflight._gather_around import gather_around
from pappus.preflight._given import Asked, Given
from pappus.preflight._judge import (
    Judged,
    brief_release,
    choose_cell,
    curves_of,
    fly_plan_window,
    judge_cell,
    judge_release,
    papers_of,
)
from pappus.preflight._map_layers import layers_of
from pappus.preflight._pack_check import Lack, check_pack, pack_page
from pappus.preflight._pack_maps import PackMaps, read_maps
from pappus.preflight._window import LaunchWindow, fly_window
from pappus.preflight._window_around import Around
from pappus.preflight._window_cell import LaunchCell
from pappus.preflight._window_curves import AgainstDelay, AgainstLift, delay_curve, lift_curve
from pappus.preflight._window_open import OpenedCell, better_neighbours, flights_wanted, open_cell
from pappus.preflight._window_options import LaunchOption, LaunchOptions, launch_options
from pappus.preflight._window_page import window_page
from pappus.preflight._window_rules import Law
from pappus.preflight._window_words import cell_json, curve_json, window_json
from pappus.preflight._words import after, briefing_json, say_chance, say_near, three_lines

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
