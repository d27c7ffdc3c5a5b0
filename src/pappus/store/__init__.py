"""What a flight leaves on the disk: one SQLite file per flight and laptop. It never computes."""

from pappus.store._basis import Basis
from pappus.store._errors import DamagedStore, NotSafe
from pappus.store._files import record_file
from pappus.store._held import Held
from pappus.store._lines import from_lines, to_lines
from pappus.store._records import Record, RecordKind, as_body
from pappus.store._rescue import Rescued, rescue
from pappus.store._store import FlightStore, Merged
from pappus.store._writer import Safety

__all__ = [
    "Basis",
    "DamagedStore",
    "FlightStore",
    "Held",
    "Merged",
    "NotSafe",
    "Record",
    "RecordKind",
    "Rescued",
    "Safety",
    "as_body",
    "from_lines",
    "record_file",
    "rescue",
    "to_lines",
]
