"""From packets to a state: what was heard, what it says, and where the balloon is."""

from pappus.tracking._fix import Fix, FixQuality, TimeQuality
from pappus.tracking._heard import Heard, PacketKind, Role, received

__all__ = ["Fix", "FixQuality", "Heard", "PacketKind", "Role", "TimeQuality", "received"]
