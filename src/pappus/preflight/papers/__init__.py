"""What leaves the desk: decision, document, draft notices and the briefing folder."""

from pappus.preflight.papers._decision_words import (
    answer_state,
    decision_page,
    decision_reasons,
    decision_sections,
    judged_table,
    short_reason,
    state_of,
)
from pappus.preflight.papers._document import Papers, briefing_document
from pappus.preflight.papers._folder import DECISION, require_folder, to_json, write_folder
from pappus.preflight.papers._ground_words import ground_sections
from pappus.preflight.papers._notices import due_and_drafts, flight_notice
from pappus.preflight.papers._pictures import launch_matrix
from pappus.preflight.papers._window_page import window_page

__all__ = [
    "DECISION",
    "Papers",
    "answer_state",
    "briefing_document",
    "decision_page",
    "decision_reasons",
    "decision_sections",
    "due_and_drafts",
    "flight_notice",
    "ground_sections",
    "judged_table",
    "launch_matrix",
    "require_folder",
    "short_reason",
    "state_of",
    "to_json",
    "window_page",
    "write_folder",
]
