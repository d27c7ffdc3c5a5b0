"""Texts of a stranger's file made fit to be shown."""

from __future__ import annotations


def one_line(text: str, longest: int = 200) -> str:
    """The text on one line without the control characters that would steer a terminal, cut to so many characters."""
    shown = "".join(
        letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in " ".join(text.split())
    )
    return shown if len(shown) <= longest else f"{shown[: longest - 1]}…"
