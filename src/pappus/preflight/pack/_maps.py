"""What a field pack holds of the ground and the air above it, read once for the map and for the judgement."""

from __future__ import annotations

from dataclasses import dataclass, replace

from pappus.errors import BadInput
from pappus.sources import (
    AirspaceFile,
    MapExtract,
    Pack,
    PackFile,
    ZonesFile,
    damage,
    read_map_extract,
    read_openair,
    read_zones,
)


@dataclass(frozen=True, eq=False)
class PackMaps:
    """Maps, airspace and zones of a pack, each with its entry in the list of contents."""

    maps: tuple[tuple[PackFile, MapExtract], ...] = ()
    airspace: tuple[tuple[PackFile, AirspaceFile], ...] = ()
    zones: tuple[tuple[PackFile, ZonesFile], ...] = ()
    unusable: tuple[tuple[PackFile, str], ...] = ()
    """Files that cannot be used, and why."""

    def lacks(self, kind: str) -> tuple[str, ...]:
        """What of a kind cannot be used, one sentence each: whoever judges by the rest has to say so."""
        lines = [f"{file.origin} cannot be used: {why}" for file, why in self.unusable if file.kind == kind]
        if kind == "airspace":
            lost = [(file, len(read.not_understood)) for file, read in self.airspace]
            lines += [f"{file.origin}: not understood: {count} of its blocks" for file, count in lost if count]
        if kind == "zones":
            lost = [(file, len(read.not_used)) for file, read in self.zones]
            lines += [f"{file.origin}: no zone and not used: {count} of its parts" for file, count in lost if count]
        return tuple(lines)


def read_maps(pack: Pack) -> PackMaps:
    """Everything of a pack that can be used; a file that cannot is told in ``unusable`` and stops nothing."""
    files = pack.of_kind("map", "airspace", "zones")
    unusable = list(damage(replace(pack, files=files)))
    hurt = [file for file, _ in unusable]
    maps: list[tuple[PackFile, MapExtract]] = []
    airspace: list[tuple[PackFile, AirspaceFile]] = []
    zones: list[tuple[PackFile, ZonesFile]] = []
    for file in files:
        if file in hurt:
            continue
        path = pack.folder / file.path
        try:
            if file.kind == "map":
                maps.append((file, read_map_extract(path)))
            elif file.kind == "airspace":
                airspace.append((file, read_openair(path)))
            else:
                zones.append((file, read_zones(path)))
        except BadInput as error:
            unusable.append((file, error.findings[0].reason))
    return PackMaps(tuple(maps), tuple(airspace), tuple(zones), tuple(unusable))
