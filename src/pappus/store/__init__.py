"""What a flight leaves on the disk: one SQLite file per flight and laptop. It never computes."""

from pappus.store._errors import DamagedStore, NotSafe
from pappus.store._store import FlightStore, Merged
from pappus.store._writer import Safety

__all__ = ["DamagedStore", "FlightStore", "Merged", "NotSafe", "Safety"]
