"""Before the flight: from a plan and the winds to a briefing."""

from pappus.preflight._brief import brief, landed_area
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
from pappus.preflight._field_pack import Wanted, centre_names, make_pack, pack_folder
from pappus.preflight._fill_card import Consequence, FillCard, fill_card
from pappus.preflight._fill_page import fill_page
from pappus.preflight._folder import require_folder, to_json, write_folder
from pappus.preflight._gather import Winds, gather_winds
from pappus.preflight._map_layers import layers_of
from pappus.preflight._pack_check import Lack, check_pack, pack_page
from pappus.preflight._words import after, briefing_json, say_chance, say_near, three_lines

__all__ = [
    "Briefing",
    "ClimbLayer",
    "Consequence",
    "FillCard",
    "Lack",
    "NearestPlace",
    "RunLanding",
    "Unknown",
    "Wanted",
    "Winds",
    "after",
    "answer_state",
    "brief",
    "briefing_json",
    "briefing_page",
    "centre_names",
    "check_pack",
    "decision_page",
    "decision_reasons",
    "decision_sections",
    "fill_card",
    "fill_page",
    "gather_winds",
    "judged_table",
    "landed_area",
    "layers_of",
    "make_pack",
    "pack_folder",
    "pack_page",
    "require_folder",
    "say_chance",
    "say_near",
    "short_reason",
    "state_of",
    "three_lines",
    "to_json",
    "write_folder",
]
