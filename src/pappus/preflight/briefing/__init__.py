"""What a briefing says: its numbers, what it cannot tell, and its words."""

from pappus.preflight.briefing._briefing import Briefing, ClimbLayer, NearestPlace, RunLanding, Unknown
from pappus.preflight.briefing._cannot_tell import NOT_JUDGED, cannot_tell
from pappus.preflight.briefing._layers import climb_layers
from pappus.preflight.briefing._page import briefing_page, say_winds
from pappus.preflight.briefing._surface import surface_at_release
from pappus.preflight.briefing._unknowns import largest_unknowns
from pappus.preflight.briefing._words import AREA_LEVEL, after, briefing_json, say_chance, say_near, three_lines

__all__ = [
    "AREA_LEVEL",
    "NOT_JUDGED",
    "Briefing",
    "ClimbLayer",
    "NearestPlace",
    "RunLanding",
    "Unknown",
    "after",
    "briefing_json",
    "briefing_page",
    "cannot_tell",
    "climb_layers",
    "largest_unknowns",
    "say_chance",
    "say_near",
    "say_winds",
    "surface_at_release",
    "three_lines",
]
