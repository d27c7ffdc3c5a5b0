"""Map files that are cut, damaged, too large or of another kind: one line each, never a traceback."""

from __future__ import annotations

import zlib
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pappus.errors import BadFile
from pappus.sources import MapExtract, read_map_extract
from pappus.sources.maps import _osm
from pappus.sources.maps._osm_blocks import unpacked_size_bytes
from sources.map_writer import as_pbf, osm_xml

NODES = {number: (50.0 + 0.0004 * (number % 50), 10.0 + 0.0007 * (number**2 % 37)) for number in range(1, 200)}
WAYS = [([*range(n, n + 9)], {"highway": "residential", "name": f"Street {n}"}) for n in range(1, 180, 4)]
WAYS += [([n, n + 1, n + 2, n], {"building": "yes"}) for n in range(1, 180, 7)]
LAKE = ([(150, "outer")], {"type": "multipolygon", "natural": "water"})
WHOLE = osm_xml(NODES, WAYS, relations=[LAKE])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("maps")


@pytest.fixture(scope="module")
def pbf(folder: Path) -> bytes:
    (folder / "whole.osm").write_bytes(WHOLE)
    return as_pbf(folder / "whole.osm", folder / "whole.osm.pbf").read_bytes()


@pytest.fixture(scope="module")
def plain_pbf(folder: Path) -> bytes:
    """Its content is not behind a checksum, so that damage reaches the objects."""
    (folder / "whole.osm").write_bytes(WHOLE)
    return as_pbf(folder / "whole.osm", folder / "plain.osm.pbf", "none").read_bytes()


def read(folder: Path, content: bytes) -> MapExtract | str:
    """The map, or the one line that refuses it."""
    (folder / "some.osm").write_bytes(content)
    try:
        return read_map_extract(folder / "some.osm")
    except BadFile as refused:
        answer = refused
    (finding,) = answer.findings
    assert finding.field == "some.osm"
    assert finding.fix
    assert "\n" not in str(answer)
    return str(answer)


def test_whole_files_are_read(folder: Path, pbf: bytes) -> None:
    """The same map both ways, so that what follows fails by its damage alone."""
    for content in (WHOLE, pbf):
        extract = read(folder, content)
        assert isinstance(extract, MapExtract)
        assert len(extract.features.shapes["building"]) == 26
        assert extract.object_counts["highway"] == 45
        assert len(extract.features.shapes["water"]) == 1
        assert not any("may be cut short" in note for note in extract.notes)


@given(st.floats(0.0, 1.0, exclude_max=True))
@settings(max_examples=60)
def test_any_cut_of_xml_is_refused(folder: Path, share: float) -> None:
    cut = WHOLE[: int(share * (len(WHOLE.rstrip()) - 1))]
    assert isinstance(read(folder, cut), str)


@given(st.floats(0.0, 1.0, exclude_max=True))
@settings(max_examples=60)
def test_any_cut_of_pbf_is_refused_or_holds_less(folder: Path, pbf: bytes, share: float) -> None:
    """A cut between two blocks leaves a whole, smaller file: the format has no mark for its end."""
    cut = read(folder, pbf[: int(share * len(pbf))])
    if isinstance(cut, MapExtract):
        assert any("may be cut short" in note for note in cut.notes)
        shapes = cut.features.shapes
        held = len(shapes["building"]), len(shapes["water"]), cut.object_counts["highway"]
        assert sum(held) < 26 + 1 + 45


@given(st.data())
@settings(max_examples=150)
def test_flipped_bytes_are_read_or_refused(folder: Path, plain_pbf: bytes, data: st.DataObject) -> None:
    content = bytearray(data.draw(st.sampled_from([WHOLE, plain_pbf])))
    for _ in range(data.draw(st.integers(1, 6))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    extract = read(folder, bytes(content))
    if isinstance(extract, MapExtract):
        assert extract.features.nearest("building", 50.01, 10.01).reach_m[0] >= 0.0
        extract.roads.nearest(50.01, 10.01)


@given(share=st.floats(0.0, 1.0, exclude_max=True))
@settings(max_examples=25)
def test_any_cut_of_a_real_map(shared_data: Callable[[str], Path], folder: Path, share: float) -> None:
    whole = shared_data("geo/osm_helsinki_centre.osm.pbf").read_bytes()
    cut = read(folder, whole[: int(share * len(whole))])
    if isinstance(cut, MapExtract):
        assert sum(cut.object_counts.values()) < 4148 + 586 + 536 + 6


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"latitude,longitude\n1,2\n", "neither a .osm.pbf nor a .osm"),
        (b"<?xml version='1.0'?><gpx></gpx>", "neither a .osm.pbf nor a .osm"),
        (b"<osmChange version='0.6'></osmChange>", "changes to a map"),
        (b"<osm version='0.6'></osm>", "empty or cut short"),
        (b"<osm version='0.5'></osm>", "damaged"),
        (b"\x00\x00\x00\x0d\x0a\x09OSMHeader\x18\x7c" + bytes(200), "damaged or cut short"),
        (b"\x7f\xff\xff\xff\x0a\x09OSMHeader\x18\x7c" + bytes(200), "damaged or cut short"),
        (b'<!DOCTYPE a [<!ENTITY b "bbbb">]><osm version="0.6"></osm>', "damaged.*entit"),
        (osm_xml({1: (10.0, 10.0), 2: (20.0, 20.0)}, [([1, 2], {"highway": "road"})], bounds=None), "too wide"),
        (osm_xml({1: (10.0, 10.0), 2: (20.0, 20.0)}, [([1, 2], {"highway": "road"})]), "more than 400 km"),
        (osm_xml({1: (95.0, 10.0), 2: (20.0, 200.0)}, [([1, 2], {"highway": "road"})]), "empty or cut short|more than"),
        (WHOLE.replace(b'version="1"', b'version="2" visible="false"', 1), None),
    ],
)
def test_other_files_are_refused_by_name(content: bytes, said: str | None, folder: Path) -> None:
    answer = read(folder, content)
    if said is None:
        assert isinstance(answer, MapExtract)
        return
    assert isinstance(answer, str)
    with pytest.raises(BadFile, match=said):
        read_map_extract(folder / "some.osm")


def test_a_map_that_ends_before_its_ways_is_refused(folder: Path) -> None:
    """Towers alone would read as clear ground."""
    assert "empty or cut short" in str(read(folder, osm_xml({1: (50.0, 10.0)}, [], node_tags={1: {"power": "tower"}})))


def test_a_history_is_refused(folder: Path) -> None:
    import osmium

    (folder / "now.osm").write_bytes(WHOLE)
    header = osmium.io.Header()
    header.has_multiple_object_versions = True
    target = folder / "past.osh.pbf"
    with osmium.SimpleWriter(str(target), header=header) as writer:
        for item in osmium.FileProcessor(str(folder / "now.osm")):
            writer.add(item)
    assert "history" in str(read(folder, target.read_bytes()))


def test_too_many_points_are_refused(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_osm, "LARGEST_POINTS", 100)
    assert "million points" in str(read(folder, WHOLE))


def test_a_small_file_that_unpacks_to_very_much_is_refused(folder: Path, pbf: bytes) -> None:
    """One block of 30 MB of zeros, written by hand after the format of the blocks, a hundred times."""
    packed = zlib.compress(bytes(30_000_000), 9)
    block = b"\x10" + varint(30_000_000) + b"\x1a" + varint(len(packed)) + packed
    header = b"\x0a\x07OSMData\x18" + varint(len(block))
    bomb = pbf + (len(header).to_bytes(4, "big") + header + block) * 100
    assert len(bomb) < 4_000_000
    assert "3.0 GB: the map unpacks to more than 2 GB" in str(read(folder, bomb))


def varint(number: int) -> bytes:
    """Seven bits a byte, lowest first, the top bit set while more follow (protocol buffers)."""
    return b"" if number == 0 else bytes([number % 128 + 128 * (number >= 128)]) + varint(number // 128)


def test_unpacked_size_is_that_of_the_blocks(shared_data: Callable[[str], Path]) -> None:
    """Against the blocks of the real file unpacked one after another: zlib data begin with 78 9c."""
    content = shared_data("geo/osm_helsinki_centre.osm.pbf").read_bytes()
    total, place = 0, content.find(b"\x78\x9c")
    while place >= 0:
        unpacking = zlib.decompressobj()
        total += len(unpacking.decompress(content[place:]))
        place = content.find(b"\x78\x9c", len(content) - len(unpacking.unused_data))
    print(f"{len(content)} bytes unpack to {total}")
    assert unpacked_size_bytes(content) == total > len(content)


def test_too_large_a_file_is_refused(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_osm, "LARGEST_FILE_BYTES", 1000)
    assert "larger than" in str(read(folder, WHOLE))


def test_a_folder_and_a_missing_file_are_refused(folder: Path) -> None:
    with pytest.raises(BadFile, match="folder"):
        read_map_extract(folder)
    with pytest.raises(BadFile, match="no such file"):
        read_map_extract(folder / "none.osm.pbf")
