"""Damaged, incomplete and hostile forecast files: each gives the right answer or a BadFile that says why."""

from __future__ import annotations

import gzip
from collections.abc import Callable
from pathlib import Path
from typing import Any

import eccodes
import numpy as np
import pytest

from pappus.errors import BadFile, BadInput
from pappus.sources import Forecast, looks_like_forecast, read_forecast
from sources.grib_writer import LATITUDES, LEVELS_HPA, LONGITUDES, air, message, value_of, written

Array = np.ndarray


def only(path: Path, **how: Any) -> Forecast:
    """The one run of a file."""
    (forecast,) = read_forecast([path], **how)
    return forecast


def with_octets(content: bytes, at: int, octets: bytes) -> bytes:
    """The content with some octets replaced."""
    return content[:at] + octets + content[at + len(octets) :]


def section(content: bytes, number: int) -> int:
    """Offset of a section of the first message, edition 2."""
    at = 16
    while content[at + 4] != number:
        at += int.from_bytes(content[at : at + 4], "big")
    return at


def leave_out(name: str, level: int) -> Callable[[str, int, Array], Array | None]:
    """A change of ``air`` that drops one field."""
    return lambda found, at, values: None if (found, at) == (name, level) else values


def altered(name: str, change: Callable[[Array], Array]) -> Callable[[str, int, Array], Array]:
    """A change of ``air`` to every field of a name."""
    return lambda found, level, values: change(values) if found == name else values


def hole(values: Array) -> Array:
    """One point missing in the south-east corner."""
    values = values.copy()
    values[-1, -1] = 9999.0
    return values


GRIB = air()
REFUSED: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "the file is empty"),
    "text": (b"pressure,height\n1000,100\n" * 50, "neither GRIB nor netCDF nor BUFKIT"),
    "only the word": (b"GRIB" * 100, "neither GRIB nor netCDF"),
    "cut short": (GRIB[:-30], "cut short"),
    "cut within the first header": (GRIB[:40], "cut short"),
    "one octet short": (GRIB[:-1], "cut short"),
    "claims 5 GB": (with_octets(GRIB, 8, (5_000_000_000).to_bytes(8, "big")), "cut short"),
    "claims 16 EiB": (with_octets(GRIB, 8, b"\xff" * 8), "cut short"),
    "claims no length": (with_octets(GRIB, 8, bytes(8)), "its end is missing"),
    "wrong length": (with_octets(GRIB, 8, (100).to_bytes(8, "big")), "its end is missing"),
    "section without length": (with_octets(GRIB, section(GRIB, 3), bytes(4)), "headers .* damaged"),
    "section beyond the end": (with_octets(GRIB, section(GRIB, 4), b"\x00\xff\xff\xff"), "headers .* damaged"),
    "unknown section": (with_octets(GRIB, section(GRIB, 1) + 4, b"\x63"), "headers .* damaged"),
    "impossible date": (with_octets(GRIB, section(GRIB, 1) + 14, b"\x0d\x2d"), "headers .* damaged"),
    "second message is edition 3": (GRIB + with_octets(GRIB, 7, b"\x03"), "is damaged"),
    "damaged gzip": (gzip.compress(GRIB)[:-20], "gzip packing is damaged"),
    "no wind": (air(names=("t", "gh")), "no u v"),
    "no northward wind": (air(names=("u", "t", "gh")), "no v"),
    "no temperature": (air(names=("u", "v", "gh")), "no t"),
    "no height and no surface": (air(names=("u", "v", "t")), "no gh, no z, and no surface pressure"),
    "only vertical wind": (message("w", np.zeros((5, 6)), level=500), "no field of wind"),
    "only a gust": (message("gust", np.zeros((5, 6)), kind="surface"), "only fields near the ground"),
    "too few levels": (air(levels=(1000, 500, 250, 100)), "4 usable levels"),
    "celsius": (air(change=altered("t", lambda values: values - 273.15)), "temperature is outside"),
    "fahrenheit": (air(change=altered("t", lambda values: values * 1.8 - 459.67)), "temperature is outside"),
    "heights in feet": (air(change=altered("gh", lambda values: values / 0.3048)), "in other units|height is outside"),
    "heights in decametres": (air(change=altered("gh", lambda values: values / 10.0)), "in other units"),
    "geopotential called height": (air(change=altered("gh", lambda values: values * 9.80665)), "height is outside"),
    "wind of 900 m/s": (air(change=altered("u", lambda values: values + 900.0)), "eastward wind is outside"),
    "heights upside down": (air(change=altered("gh", lambda values: 20000.0 - values / 2)), "heights do not rise"),
    "missing points": (air(missing=9999.0, change=altered("v", hole)), "northward wind is missing at 7 of 210 points"),
    "rows to and fro": (air(keys={"alternativeRowScanning": 1}), "run to and fro"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_it_is_refused_and_says_why(tmp_path: Path, case: str, capfd: pytest.CaptureFixture[str]) -> None:
    content, reason = REFUSED[case]
    path = written(tmp_path, content)
    with pytest.raises(BadFile, match=reason) as raised:
        read_forecast([path])
    assert raised.value.findings[0].fix
    shown = capfd.readouterr()
    assert (shown.out, shown.err) == ("", "")


def huge_grid(content: bytes) -> bytes:
    """The first message claims 4 billion points in two billion columns."""
    at = section(content, 3)
    content = with_octets(content, at + 6, (4_000_000_000).to_bytes(4, "big"))
    return with_octets(content, at + 30, (2_000_000_000).to_bytes(4, "big") + (2).to_bytes(4, "big"))


def wrong_width(content: bytes) -> bytes:
    """The first message claims 32 bits a value where there are 24."""
    return with_octets(content, section(content, 5) + 19, b"\x20")


def few_values(content: bytes) -> bytes:
    """The first message claims three packed values for its thirty points."""
    return with_octets(content, section(content, 5) + 5, (3).to_bytes(4, "big"))


@pytest.mark.parametrize(
    ("damage", "packing"),
    [
        (huge_grid, "grid_simple"),
        (wrong_width, "grid_simple"),
        (few_values, "grid_simple"),
        (huge_grid, "grid_ccsds"),
        (few_values, "grid_ccsds"),
        (few_values, "grid_complex"),
    ],
)
def test_one_absurd_field_costs_its_level(
    tmp_path: Path, damage: Callable[[bytes], bytes], packing: str, capfd: pytest.CaptureFixture[str]
) -> None:
    first = air(names=("u",), levels=(1000,), packing=packing)
    forecast = only(written(tmp_path, damage(first) + air(packing=packing, change=leave_out("u", 1000))))
    assert forecast.field.levels == len(LEVELS_HPA) - 1
    assert any("u on pressure level 100000 left out" in note for note in forecast.field.notes)
    assert any("1 level left out, no u: 1000 hPa" in note for note in forecast.field.notes)
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("octet", [19, 31, 34, 36, 41, 45, 46, 47, 48])
def test_damaged_groups_of_complex_packing(tmp_path: Path, octet: int) -> None:
    # number of groups, widths and lengths of groups, order of differences: none may lead outside the data
    packing = "grid_complex_spatial_differencing"
    first = air(names=("u",), levels=(1000,), packing=packing)
    damaged = with_octets(first, section(first, 5) + octet, b"\xfe")
    with pytest.raises(BadFile, match="u on level 100000 cannot be decoded"):
        read_forecast([written(tmp_path, damaged + air(packing=packing, change=leave_out("u", 1000)))])


def test_a_constant_field_of_a_huge_grid_takes_no_memory(tmp_path: Path) -> None:
    # sixteen octets of data may claim any number of equal values
    parts = []
    for name in ("u", "v", "t", "gh"):
        for level in range(100, 1300, 100):
            content = message(name, np.full((5, 6), 250.0), level=level)
            at = section(content, 3)
            content = with_octets(content, at + 6, (19_000_000).to_bytes(4, "big"))
            content = with_octets(content, at + 30, (19_000).to_bytes(4, "big") + (1000).to_bytes(4, "big"))
            parts.append(with_octets(content, section(content, 5) + 5, (19_000_000).to_bytes(4, "big")))
    with pytest.raises(BadFile, match=r"decoded it takes [0-9]+ GB"):
        read_forecast([written(tmp_path, b"".join(parts))])


@pytest.mark.parametrize("name", ["u", "v", "t", "gh"])
def test_a_level_that_lacks_a_field_is_left_out(tmp_path: Path, name: str) -> None:
    field = only(written(tmp_path, air(hours=(0, 6), change=leave_out(name, 250)))).field
    np.testing.assert_allclose(field.pressure_pa[0, 0, :, 0, 0] / 100.0, [1000, 700, 500, 100, 50, 10])
    word = "height" if name == "gh" else name
    assert any(f"1 level left out, no {word}: 250 hPa" in note for note in field.notes)


def test_an_incomplete_step_is_left_out(tmp_path: Path) -> None:
    content = air(hours=(0, 3, 6)) + air(hours=(9,), change=leave_out("t", 100))
    field = only(written(tmp_path, content)).field
    assert field.time_s.tolist() == [0.0, 10800.0, 21600.0]
    assert "step +9 h left out: it is not complete" in field.notes
    assert field.levels == len(LEVELS_HPA)


def test_an_incomplete_member_is_left_out(tmp_path: Path) -> None:
    whole = air(hours=(0, 3, 6), members=(1, 2))
    part = air(hours=(0, 3, 6), members=(3,), change=leave_out("u", 50))
    field = only(written(tmp_path, whole + part)).field
    assert field.wind_u_m_s.shape[:2] == (2, 3)
    assert "member 3 left out: it is not complete" in field.notes


def test_a_step_that_only_some_members_have_is_left_out(tmp_path: Path) -> None:
    content = air(hours=(0, 3), members=(1, 2, 3, 4)) + air(hours=(6,), members=(1,))
    field = only(written(tmp_path, content)).field
    assert field.wind_u_m_s.shape[:2] == (4, 2)
    assert "step +6 h left out: it is not complete" in field.notes


def test_missing_points_outside_the_area_do_not_matter(tmp_path: Path) -> None:
    path = written(tmp_path, air(missing=9999.0, change=altered("v", hole)))
    field = only(path, area=(48.5, 49.5, 5.0, 6.5)).field
    v = value_of("v", 500, field.latitude_deg, field.longitude_deg, 0, 0)
    np.testing.assert_allclose(field.wind_v_m_s[0, 0, 2], v, atol=1e-5)


def test_a_bitmap_without_holes_reads_as_without_bitmap(tmp_path: Path) -> None:
    field = only(written(tmp_path, air(missing=9999.0))).field
    v = value_of("v", 500, field.latitude_deg, field.longitude_deg, 0, 0)
    np.testing.assert_allclose(field.wind_v_m_s[0, 0, 2], v, atol=1e-5)


def test_two_fields_that_contradict_each_other_are_refused(tmp_path: Path) -> None:
    other = message("u", value_of("u", 500, LATITUDES, LONGITUDES, 0, 0) + 1.0, level=500)
    with pytest.raises(BadFile, match=r"two different fields give u on level 50000"):
        read_forecast([written(tmp_path, air() + other)])


def test_the_same_file_twice_is_one_forecast(tmp_path: Path) -> None:
    path = written(tmp_path, air())
    (forecast,) = read_forecast([path, path])
    assert forecast.field.levels == len(LEVELS_HPA)


def test_headings_between_messages_are_skipped(tmp_path: Path) -> None:
    parts = [air(names=("u", "v", "t", "gh"), levels=(level,)) for level in LEVELS_HPA]
    content = b"\r\r\nHTXA89 ECMF 040600\r\r\n" + b"\r\r\nNNNN\r\r\n".join(parts) + bytes(100)
    assert only(written(tmp_path, content)).field.levels == len(LEVELS_HPA)


def test_packed_with_gzip(tmp_path: Path) -> None:
    path = written(tmp_path, gzip.compress(GRIB), "forecast.grib.gz")
    assert looks_like_forecast(path)
    assert only(path).field.levels == len(LEVELS_HPA)


def test_a_missing_lowest_model_level_is_refused(tmp_path: Path) -> None:
    half = np.geomspace(1.0, 1000.0, 11)
    pv = np.concatenate([np.concatenate([[0.0], half]) * 100.0, np.zeros(12)])
    here = np.zeros((len(LATITUDES), len(LONGITUDES)))
    how: dict[str, Any] = {"kind": "hybrid", "pv": pv}
    ground = message("z", here, level=1, **how) + message("lnsp", here + np.log(100_000.0), level=1, **how)

    def levels(chosen: range) -> bytes:
        return b"".join(
            message(name, value_of(name, 500, LATITUDES, LONGITUDES, 0, 0), level=level, **how)
            for level in chosen
            for name in ("u", "v", "t", "q")
        )

    with pytest.raises(BadFile, match="complete column below"):
        read_forecast([written(tmp_path, levels(range(1, 11)) + ground)])
    # a gap higher up costs the levels above it
    lower = levels(range(5, 12)) + levels(range(1, 4)) + ground
    field = only(written(tmp_path, lower)).field
    assert field.levels == 7
    assert any("complete column below it: 1, 2, 3" in note for note in field.notes)
    with pytest.raises(BadFile, match="no surface pressure"):
        read_forecast([written(tmp_path, levels(range(1, 12)) + message("z", here, level=1, **how))])
    with pytest.raises(BadFile, match="no height of the surface"):
        read_forecast([written(tmp_path, levels(range(1, 12)) + message("lnsp", here + 11.5, level=1, **how))])


@pytest.mark.parametrize(
    ("kind", "called"),
    [
        ("rotated_ll", "rotated latitude-longitude"),
        ("polar_stereographic", "polar stereographic"),
        ("reduced_gg", "reduced grid"),
        ("mercator", "Mercator"),
    ],
)
def test_other_grids_are_refused_by_name(tmp_path: Path, kind: str, called: str) -> None:
    parts = []
    for level in LEVELS_HPA:
        for name in ("u", "v", "t", "gh"):
            handle = eccodes.codes_new_from_message(message(name, np.full((5, 6), 250.0), level=level))
            eccodes.codes_set(handle, "gridType", kind)
            if kind == "reduced_gg":
                eccodes.codes_set_array(handle, "pl", [6, 6, 6, 6, 6])
            eccodes.codes_set(handle, "numberOfDataPoints", 30)
            parts.append(bytes(eccodes.codes_get_message(handle)))
            eccodes.codes_release(handle)
    with pytest.raises(BadFile, match=f"{called}: grids of this kind are not read"):
        read_forecast([written(tmp_path, b"".join(parts))])


def test_no_file_a_folder_a_wrong_path(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="no file is named"):
        read_forecast([])
    with pytest.raises(BadFile, match="not a regular file"):
        read_forecast([tmp_path])
    with pytest.raises(BadFile, match="no such file"):
        read_forecast([tmp_path / "nothing"])
    assert not looks_like_forecast(tmp_path / "nothing")
    assert not looks_like_forecast(written(tmp_path, b"1000,20\n", "table.csv"))


def test_random_octets_never_crash(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """Every outcome is an answer or a BadInput; nothing else may come out, and nothing on the screen."""
    rng = np.random.default_rng(5)
    answers = 0
    for packing in ("grid_simple", "grid_ccsds", "grid_complex_spatial_differencing"):
        clean = np.frombuffer(air(packing=packing), np.uint8)
        for trial in range(60):
            octets = clean.copy()
            places = rng.integers(0, len(octets), size=1 + trial % 5)
            octets[places] = rng.integers(0, 256, size=len(places))
            try:
                read_forecast([written(tmp_path, octets.tobytes())])
                answers += 1
            except BadInput:
                pass
    assert 0 < answers < 180
    assert capfd.readouterr() == ("", "")
