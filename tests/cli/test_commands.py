"""The commands, run as a crew runs them."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cli.conftest import Run
from pappus.plan import example_plan_text
from pappus.sources import invented_sounding_csv

FILES = [
    "briefing.html", "briefing.json", "briefing.txt", "flight.gpx", "flight.kml", "height-time.png",
    "landing.geojson", "map.png", "wind-profile.png",
]  # fmt: skip

JUDGED = ["decision.json", "document-a4.pdf", "document-letter.pdf", "document.html", "draft-notices.txt"]
"""What the folder holds beside them when the release was judged; deadlines only where a rule sets some, and for the
light balloon of the example none does."""


@pytest.fixture
def example(tmp_path: Path) -> Path:
    (tmp_path / "flight.toml").write_text(example_plan_text(), encoding="utf-8")
    (tmp_path / "winds.csv").write_text(invented_sounding_csv(), encoding="utf-8")
    return tmp_path


def test_demo_makes_a_briefing_folder_that_says_it_is_invented(pappus: Run, tmp_path: Path) -> None:
    result = pappus("demo", "trial")
    assert result.returncode == 0, result.stderr
    folder = tmp_path / "trial" / "briefing"
    assert sorted(path.name for path in folder.iterdir()) == sorted(FILES + JUDGED)
    text = (folder / "briefing.txt").read_text(encoding="utf-8")
    shown = [result.stdout, text, (tmp_path / "trial" / "flight.toml").read_text(encoding="utf-8")]
    pages = [name for name in FILES if not name.endswith(("txt", "png"))] + ["document.html"]
    shown += [(folder / name).read_text(encoding="utf-8") for name in pages]
    for said in shown:
        assert "nvented" in said
    assert "INVENTED" in (tmp_path / "trial" / "invented-sounding.csv").read_text(encoding="utf-8").splitlines()[0]
    assert sorted(path.name for path in (tmp_path / "trial").iterdir()) == [
        "briefing", "flight.pack", "flight.toml", "invented-airspace.txt", "invented-forecast-2027-02-13-00Z.grib2",
        "invented-map.osm", "invented-sounding.csv", "invented-zones.geojson",
    ]  # fmt: skip
    notices = (folder / "draft-notices.txt").read_text(encoding="utf-8")
    assert notices.lower().count("draft, not filed") >= 7
    assert "legal advice" in notices


def test_the_example_has_go_wait_and_no_go_each_for_a_reason_on_the_map(pappus: Run, tmp_path: Path) -> None:
    """Go: nothing lies under the flights. Wait: a town or a reserve may. No-go: airspace is entered."""
    answer = json.loads(pappus("demo", "trial", "--json").stdout)
    cells = {(cell["site"], cell["fill"], cell["release_utc"][11:16]): cell for cell in answer["cells"]}
    assert len(cells) == 66
    told = {key: cell["answer"] for key, cell in cells.items()}
    go, entered = cells["A", "as planned", "12:30"], cells["B", "as planned", "12:30"]
    assert (go["answer"], entered["answer"]) == ("go", "no-go")
    assert entered["facts"]["airspace"]["value"]["p"] > 0.2
    assert go["facts"]["airspace"]["value"]["p"] == 0.0
    waits = [cells[key] for key, said in told.items() if said == "wait" and key[1] == "slow"]
    open_checks = {
        check["name"] for cell in waits for check in cell["checks"] if check["verdict"] == "cannot tell"
    }  # fmt: skip
    assert open_checks & {"keep_out", "built_up"}
    assert answer["opened"]["answer"] == "go"
    # judged again, the folder says what changed
    again = pappus("brief", "trial/flight.toml", "--pack", "trial/flight.pack", "--out", "trial/briefing")
    assert again.returncode == 0, again.stderr
    assert "Changed since the last briefing" in again.stdout
    missing = pappus("window", "trial/flight.toml", "--fill", "enormous")
    assert missing.returncode == 2
    assert "no such cell" in missing.stderr


def test_first_three_lines_answer_the_three_questions(pappus: Run, example: Path) -> None:
    result = pappus("brief", "flight.toml", "--winds", "winds.csv")
    said = re.sub(r"\s+", " ", result.stdout)
    assert re.match(
        r"Reaches 31\.0 km \(101,700 ft\) with \d+ % \(\d+ to \d+ %\); lands .* of [^,]+, AR, 90 % area", said
    )
    assert "Worst: the " in said
    assert "Holds for a release until" in said
    assert said.index("Worst:") < said.index("Holds for") < said.index("Climb by layer")


def test_json_and_page_give_the_same_numbers(pappus: Run, example: Path) -> None:
    page = pappus("brief", "flight.toml", "--winds", "winds.csv", "--out", "one")
    answer = json.loads(pappus("brief", "flight.toml", "--winds", "winds.csv", "--json").stdout)
    assert re.sub(r"\s+", " ", page.stdout).startswith(answer["words"]["what"])
    stored = json.loads((example / "one" / "briefing.json").read_text(encoding="utf-8"))
    assert stored["top_msl_m"] == answer["top_msl_m"]  # same seed, same flights
    landing = answer["landing"]
    assert landing["flights"] == landing["landed"] + landing["unknown"] == 1000
    sizes = [area["area_km2"] for area in landing["areas"]]
    assert sizes == sorted(sizes)
    assert answer["winds"][0]["sources"][0]["sha256"]


def test_on_the_pad_more_lift_climbs_faster_and_bursts_lower(pappus: Run, example: Path) -> None:
    def answer(*arguments: str) -> dict[str, Any]:
        result = pappus("brief", "flight.toml", "--winds", "winds.csv", "--json", *arguments)
        assert result.returncode == 0, result.stderr
        return dict(json.loads(result.stdout))

    planned = answer()
    measured = answer("--lift-measured", "2600 gf", "--release", "12:42Z", "--site", "A")
    assert measured["release_utc"] == "2027-02-13T12:42:00Z"
    assert measured["fill"]["scale_lift_n"] == pytest.approx(2.6 * 9.80665, rel=1e-6)
    assert measured["climb"][0]["rate_m_s"] > planned["climb"][0]["rate_m_s"]
    assert measured["top_msl_m"]["p50"] < planned["top_msl_m"]["p50"]
    other = answer("--site", "B")
    assert other["site"]["name"] == "B"


def test_a_floater_is_answered_with_what_is_unknown(pappus: Run, example: Path) -> None:
    """So little gas that the film stops it: no landing area, and the first line says so."""
    text = example_plan_text().replace('burst_diameter = "8.6 m"', 'burst_diameter = "14 m"')
    text = text.replace('mass = "1200 g"', 'mass = "1500 g"').replace('climb = "5 m/s"', 'free_lift = "25 gf"')
    text = re.sub(r'after = "\d+ min"', 'after = "700 min"', text).replace(
        '# scale_scatter = "0.5 N"', 'scale_scatter = "0.01 N"'
    )
    text = text.replace('# extrapolation_above_top = "5 km"', 'extrapolation_above_top = "12 km"')
    (example / "flight.toml").write_text(text, encoding="utf-8")
    result = pappus("brief", "flight.toml", "--winds", "winds.csv", "--out", "float")
    said = re.sub(r"\s+", " ", result.stdout)
    assert result.returncode == 0, result.stderr
    assert "still aloft" in said
    assert sorted(path.name for path in (example / "float").iterdir()) == FILES


def test_more_flights_than_tracks_are_kept(pappus: Run, example: Path) -> None:
    """2,500 flights, 1,000 tracks: every hand-out is made, and the chances count all flights."""
    (example / "flight.toml").write_text(
        example_plan_text().replace("flights = 1000", "flights = 2500"), encoding="utf-8"
    )
    result = pappus("brief", "flight.toml", "--winds", "winds.csv", "--out", "large", "--json")
    assert result.returncode == 0, result.stderr
    assert sorted(path.name for path in (example / "large").iterdir()) == FILES
    landing = json.loads(result.stdout)["landing"]
    assert landing["flights"] == landing["landed"] + landing["unknown"] == 2500


def test_plan_new_check_and_fill(pappus: Run, tmp_path: Path) -> None:
    assert pappus("plan", "new", "mine.toml").returncode == 0
    checked = pappus("plan", "check", "mine.toml")
    assert checked.returncode == 0
    assert "can be used" in checked.stdout
    card = pappus("fill", "mine.toml")
    assert card.returncode == 0, card.stderr
    said = re.sub(r"\s+", " ", card.stdout)
    assert said.startswith("Read ")
    assert "on the scale" in said
    assert "Never breathe the gas" in said
    assert "no winds given" in said
    values = json.loads(pappus("fill", "mine.toml", "--json").stdout)
    assert values["less"]["scale_lift_n"] < values["fill"]["scale_lift_n"] < values["more"]["scale_lift_n"]
    assert values["less"]["burst_msl_m"] > values["more"]["burst_msl_m"]


PLACES = {
    "bom_94461_20160403T2315_ascent_309052.bufr": (-25.03, 128.30, "600 m", "2016-04-04T00:00:00Z", "Australia/Darwin"),
    "igra2_USM00070026_201006_excerpt.txt": (71.29, -156.78, "12 m", "2010-06-01T12:00:00Z", "America/Anchorage"),
    "boise_72681_20101209T12_levels.csv": (43.56, -116.21, "874 m", "2010-12-09T12:00:00Z", "America/Boise"),
}


@pytest.mark.parametrize("file", PLACES)
def test_briefing_on_a_real_sounding(file: str, pappus: Run, example: Path, shared_data: Callable[[str], Path]) -> None:
    """A BUFR, an archive text and a CSV sounding, each with a plan at that place (sources in the data folder)."""
    latitude, longitude, height, release, zone = PLACES[file]
    text = example_plan_text()
    text = text.replace("latitude_deg = -37.38", f"latitude_deg = {latitude}", 1)
    text = text.replace("longitude_deg = -64.60", f"longitude_deg = {longitude}", 1)
    text = text.replace('height = "225 m"', f'height = "{height}"', 1).replace("America/Argentina/Salta", zone, 1)
    text = re.sub(r"\[\[cut_down\]\].*?(?=\n# When the flight may leave)", "", text, flags=re.S)
    day = release[:10]
    text = text.replace("2027-02-13T12:30:00Z", release).replace("2027-02-13T11:00:00Z", f"{day}T00:00:00Z")
    text = text.replace("2027-02-13T16:00:00Z", f"{day}T23:00:00Z")
    (example / "flight.toml").write_text(text, encoding="utf-8")
    winds = shared_data(f"sondes/{file}")
    result = pappus("brief", "flight.toml", "--winds", str(winds), "--out", "answer", "--json")
    assert result.returncode == 0, result.stderr
    answer = json.loads(result.stdout)
    assert answer["landing"]["near"] is not None
    assert answer["winds"][0]["sources"][0]["name"] == file
    assert 28_000.0 < answer["top_msl_m"]["p50"] < 37_000.0
    assert sorted(path.name for path in (example / "answer").iterdir()) == FILES
