"""What a desk makes from its field pack is made anew when a file of the pack changes, and only then."""

from __future__ import annotations

from pathlib import Path

from flown_example import NOW

from pappus.preflight import write_example
from pappus.web import Desk


def test_reading_the_winds_is_no_change_of_the_pack(tmp_path: Path) -> None:
    desk = Desk(write_example(tmp_path), now=lambda: NOW)
    before = desk.pack_stamp()
    assert before is not None
    assert desk.winds()
    assert desk.pack_stamp() == before
    (forecast,) = (desk.pack_folder / "winds").glob("*.grib2")
    for path in (forecast, desk.pack_folder / "manifest.json"):
        path.write_bytes(path.read_bytes() + b" ")
        changed = desk.pack_stamp()
        assert changed != before
        before = changed
    (desk.pack_folder / "winds" / "more.grib2").write_bytes(b"")
    assert desk.pack_stamp() != before
    assert Desk(tmp_path / "other.toml").pack_stamp() is None
