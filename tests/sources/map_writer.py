"""Small OpenStreetMap files for tests, as XML written by hand and as PBF through osmium."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from xml.sax.saxutils import quoteattr

Tags = Mapping[str, str]
Place = tuple[float, float]


def osm_xml(
    nodes: Mapping[int, Place],
    ways: Sequence[tuple[Sequence[int], Tags]],
    *,
    node_tags: Mapping[int, Tags] | None = None,
    relations: Sequence[tuple[Sequence[tuple[int, str]], Tags]] = (),
    bounds: tuple[float, float, float, float] | None = (50.0, 50.1, 10.0, 10.1),
) -> bytes:
    """Nodes as id: (latitude, longitude); ways count from 101, relations from 201; bounds south, north, west, east."""
    lines = ['<?xml version="1.0" encoding="UTF-8"?>', '<osm version="0.6" generator="test">']
    if bounds:
        south, north, west, east = bounds
        lines.append(f'<bounds minlat="{south}" minlon="{west}" maxlat="{north}" maxlon="{east}"/>')
    for node, (latitude, longitude) in nodes.items():
        tags = (node_tags or {}).get(node, {})
        lines.append(f'<node id="{node}" version="1" lat="{latitude}" lon="{longitude}">{_tags(tags)}</node>')
    for number, (refs, tags) in enumerate(ways, 101):
        members = "".join(f'<nd ref="{ref}"/>' for ref in refs)
        lines.append(f'<way id="{number}" version="1">{members}{_tags(tags)}</way>')
    for number, (parts, tags) in enumerate(relations, 201):
        members = "".join(f'<member type="way" ref="{ref}" role="{role}"/>' for ref, role in parts)
        lines.append(f'<relation id="{number}" version="1">{members}{_tags(tags)}</relation>')
    return "\n".join([*lines, "</osm>"]).encode()


def _tags(tags: Tags) -> str:
    return "".join(f"<tag k={quoteattr(key)} v={quoteattr(value)}/>" for key, value in tags.items())


def as_pbf(source: Path, target: Path, packing: str = "zlib") -> Path:
    """The same objects as PBF, its blocks packed or ("none") plain; needs osmium."""
    import osmium

    target.unlink(missing_ok=True)
    with osmium.io.Reader(str(source)) as reader:
        header = reader.header()
    file = osmium.io.File(str(target), f"pbf,pbf_compression={packing}")
    with osmium.SimpleWriter(file, header=header) as writer:
        for item in osmium.FileProcessor(str(source)):
            writer.add(item)
    return target
