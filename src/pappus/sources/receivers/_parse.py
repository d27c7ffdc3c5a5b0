"""One packet to fixes: the same bytes heard at the same time always give the same answer."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from pappus.sources.receivers._aprs import parse_aprs_text, parse_ax25
from pappus.sources.receivers._json_packet import fix_of
from pappus.sources.receivers._json_text import read_object
from pappus.sources.receivers._nmea import parse_nmea
from pappus.sources.receivers._refused import NotUnderstood, Refused
from pappus.sources.receivers._senders import Sender
from pappus.sources.receivers._ubx import parse_nav_pvt
from pappus.tracking import Fix, PacketKind


def parse(
    kind: PacketKind, raw: bytes, heard_utc: datetime, senders: Sequence[Sender] = ()
) -> tuple[Fix, ...] | NotUnderstood:
    """Fixes of one packet, or why there are none. Never raises for bytes that came over the air.

    ``"nmea"``: lines of one or more epochs; a line counts only with a right checksum. ``"ubx"``: one NAV-PVT message
    with a right checksum. ``"ax25"``: one KISS frame between its marks, or a bare frame with a right check sequence.
    ``"aprs-text"``: one line in monitor form. ``"json"``: one object, by the first of ``senders`` that fits it, else in
    our own schema. ``heard_utc`` (UTC-aware) gives the date to times that come without one.
    """
    match kind:
        case "nmea":
            return parse_nmea(raw, heard_utc)
        case "ubx":
            return parse_nav_pvt(raw, heard_utc)
        case "ax25":
            return parse_ax25(raw, heard_utc)
        case "aprs-text":
            return parse_aprs_text(raw, heard_utc)
        case "json":
            return _json(raw, senders)
        case _:  # a store may come from a newer computer
            return NotUnderstood(f"packets of kind {kind} are not known here")


def _json(raw: bytes, senders: Sequence[Sender]) -> tuple[Fix, ...] | NotUnderstood:
    try:
        found = read_object(raw)
        for sender in senders:
            if sender.fits(found):
                return (sender.read(found),)
        return (fix_of(found),)
    except Refused as error:
        return NotUnderstood(str(error))
