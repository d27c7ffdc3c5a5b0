"""Packets from serial ports, networks and logs, and what they say of the tracker."""

from pappus.sources.receivers._parse import parse
from pappus.sources.receivers._refused import NotUnderstood
from pappus.sources.receivers._senders import Sender, read_senders

__all__ = ["NotUnderstood", "Sender", "parse", "read_senders"]
