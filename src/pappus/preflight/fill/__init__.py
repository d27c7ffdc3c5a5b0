"""The fill card: what the crew at the balloon reads and does."""

from pappus.preflight.fill._card import Consequence, FillCard, fill_card
from pappus.preflight.fill._page import fill_page

__all__ = [
    "Consequence",
    "FillCard",
    "fill_card",
    "fill_page",
]
