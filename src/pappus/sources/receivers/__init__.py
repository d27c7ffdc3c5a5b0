"""Packets from serial ports, networks and logs, and what they say of the tracker."""

from pappus.sources.receivers._address import Address, parse_address
from pappus.sources.receivers._desk import ReceiverState
from pappus.sources.receivers._log import read_log, replay
from pappus.sources.receivers._parse import parse
from pappus.sources.receivers._receiver import Receiver
from pappus.sources.receivers._receivers import receivers_from
from pappus.sources.receivers._refused import NotUnderstood
from pappus.sources.receivers._senders import Sender, read_senders
from pappus.sources.receivers._setting import ReceiverSetting

__all__ = [
    "Address",
    "NotUnderstood",
    "Receiver",
    "ReceiverSetting",
    "ReceiverState",
    "Sender",
    "parse",
    "parse_address",
    "read_log",
    "read_senders",
    "receivers_from",
    "replay",
]
