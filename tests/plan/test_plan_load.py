"""A good plan becomes domain objects. Conversions by hand from exact factors (ft, gf, °C + 273.15)."""

import dataclasses
import hashlib
import math
import re
import tomllib
from datetime import UTC, datetime, timedelta

import pytest

from pappus.plan import EnsembleSize, Limits, Site, Window, example_plan_text, load_plan

CLIMB = 'climb = "5 m/s"\n'


@pytest.fixture
def load(tmp_path):
    def load_text(*changes):
        text = example_plan_text()
        for old, new in changes:
            assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in the example"
            text = text.replace(old, new)
        path = tmp_path / "plan.toml"
        path.write_text(text, encoding="utf-8")
        return load_plan(path)

    return load_text


def test_the_example_loads_and_says_that_it_is_invented(load):
    plan = load()
    assert "invented" in example_plan_text().splitlines()[0]
    assert "Invented example" in plan.mission.about
    assert plan.mission.wanted_height_msl_m == 31_000.0
    assert plan.mission.heights_of_interest_msl_m == (26_000.0, 30_000.0)
    assert plan.sites[1] == Site("B", "field near Victorica, La Pampa", -36.22, -65.44, 312.0, None, None)
    assert plan.window == Window(
        datetime(2027, 2, 13, 11, tzinfo=UTC),
        datetime(2027, 2, 13, 16, tzinfo=UTC),
        datetime(2027, 2, 13, 12, 30, tzinfo=UTC),
        1800.0,
    )
    assert plan.window.releases[::5] == tuple(
        datetime(2027, 2, 13, 11, tzinfo=UTC) + timedelta(minutes=150 * step) for step in range(3)
    )
    assert [(name, wish.by, wish.value) for name, wish in plan.fill_options] == [
        ("slow", "climb", 4.2), ("fast", "climb", 6.0),
    ]  # fmt: skip
    assert plan.limits == Limits(200e3, 12 * 3600.0, 96 * 3600.0, 5e3, 2.0, 6 * 3600.0, None)
    assert plan.ensemble == EnsembleSize(1000, 1)
    assert (plan.fill.by, plan.fill.value, plan.fill.chance, plan.fill.scale_sd_n) == ("climb", 5.0, None, 0.5)
    assert plan.cylinder.pressure_pa == pytest.approx(200e5)
    assert plan.cylinder.temperature_k == pytest.approx(293.15)
    # 190 + 280 + 560 + 20 + 10 + 6 g; 10 + 5 + 3 m
    assert plan.flight_train.train_mass_kg == pytest.approx(1.066)
    assert plan.flight_train.length_m == pytest.approx(18.0)
    assert plan.flight_train.packages[0].edges_m == pytest.approx((0.12, 0.12, 0.10))
    assert plan.flight_train.cut_downs[0].after_release_s == pytest.approx(130 * 60.0)
    assert plan.flight_train.cut_downs[1].keep_inside_deg[2] == (-34.8, -61.4)


def test_the_digest_is_that_of_the_file(load, tmp_path):
    plan = load()
    assert plan.source_sha256 == hashlib.sha256((tmp_path / "plan.toml").read_bytes()).hexdigest()


def test_a_plan_is_made_of_plain_values(load):
    def leaves(value):
        if isinstance(value, dict):
            return [leaf for item in value.values() for leaf in leaves(item)]
        if isinstance(value, list | tuple):
            return [leaf for item in value for leaf in leaves(item)]
        return [value]

    kinds = {type(leaf) for leaf in leaves(dataclasses.asdict(load()))}
    assert kinds <= {str, int, float, bool, datetime, type(None)}


def test_units_are_read_where_they_stand(load):
    plan = load(
        ('wanted_height = "31 km"', 'wanted_height = "100000 ft"'),
        ('mass = "1200 g"', 'mass = "42 oz"'),
        (CLIMB, 'scale_lift = "2150 gf"\n'),
    )
    assert plan.mission.wanted_height_msl_m == pytest.approx(30_480.0)
    assert plan.flight_train.envelope.mass_kg == pytest.approx(42 * 28.349523125e-3)
    assert plan.fill.value == pytest.approx(2150 * 9.80665e-3)


def test_what_a_plan_leaves_out_is_named(load):
    plan = load(('burst_diameter = "8.6 m"', ""), ("release = 2027-02-13T12:30:00Z", ""))
    envelope = plan.flight_train.envelope
    assert envelope.diameter_is_prior
    # Power law of the handbook table (WMO-No. 8, from memory): 7.48 m x 1.2^0.549.
    assert envelope.burst_diameter_m == pytest.approx(7.48 * math.exp(0.549 * math.log(1.2)))
    assert envelope.burst_ln_sd == 0.08
    assert envelope.unstretched_diameter_m == pytest.approx(envelope.burst_diameter_m / 5.5)
    assert plan.window.release == plan.window.opens
    said = "\n".join(plan.assumptions)
    for words in ("balloon.burst_diameter: 8.27 m", "gas.purity: 99 %", "canopy.spread: 18 %", "window.release"):
        assert words in said


def test_what_a_plan_says_is_not_an_assumption(load):
    plan = load(('# purity = "99 %"', 'purity = "97 %"'), ('# burst_scatter = "6 %"', 'burst_scatter = "4 %"'))
    assert plan.flight_train.gas.purity == pytest.approx(0.97)
    assert plan.flight_train.envelope.burst_ln_sd == pytest.approx(0.04)
    assert not plan.flight_train.envelope.diameter_is_prior
    assert not [said for said in plan.assumptions if said.startswith(("gas.purity", "balloon.burst"))]


def test_a_prior_beyond_its_fit_says_so(load):
    said = load(('mass = "1200 g"', 'mass = "50 g"'), ('burst_diameter = "8.6 m"', "")).assumptions
    assert any("outside 0.1 to 3 kg" in sentence for sentence in said)


def test_an_offset_becomes_utc(load):
    plan = load(("opens = 2027-02-13T11:00:00Z", "opens = 2027-02-13T08:00:00-03:00"))
    assert plan.window.opens == datetime(2027, 2, 13, 11, tzinfo=UTC)
    assert plan.window.opens.utcoffset() == timedelta(0)


@pytest.mark.parametrize(
    ("line", "by", "value"),
    [
        ('volume = "3400 L"', "volume", 3.4),
        ('scale_lift = "23 N"', "scale_lift", 23.0),
        ('free_lift = "2 lbf"', "free_lift", 2 * 4.4482216152605),
        ('climb = "1000 ft/min"', "climb", 304.8 / 60.0),
        ('height = "30 km"\nchance = "80 %"', "height", 30_000.0),
    ],
)
def test_five_ways_to_fill(load, line, by, value):
    fill = load((CLIMB, line + "\n")).fill
    assert fill.by == by
    assert fill.value == pytest.approx(value)
    assert fill.chance == (pytest.approx(0.8) if by == "height" else None)


def test_tables_that_may_be_left_out(load, tmp_path):
    tables = tomllib.loads(example_plan_text())
    assert {"limits", "ensemble", "cut_down"} <= tables.keys()
    text = re.sub(r"(?ms)^\[\[cut_down\]\].*?(?=^# When the flight may leave)", "", example_plan_text())
    text = text[: text.index("[limits]")].replace("[gas.cylinder]", "").replace('volume = "50 L"', "")
    text = re.sub(r"(?m)^(pressure|temperature|residual) = .*$", "", text)
    path = tmp_path / "short.toml"
    path.write_text(text, encoding="utf-8")
    plan = load_plan(path)
    assert (plan.cylinder, plan.flight_train.cut_downs) == (None, ())
    assert (plan.limits, plan.ensemble) == (load().limits, load().ensemble)


def test_the_other_triggers(load):
    devices = load(
        ('trigger = "time"', 'trigger = "height"'),
        ('after = "130 min"', 'height = "33 km"'),
        ('trigger = "area"', 'trigger = "command"'),
        (example_plan_text()[example_plan_text().index("keep_inside = [") :].split("\n]\n")[0] + "\n]\n", ""),
    ).flight_train.cut_downs
    assert [device.trigger for device in devices] == ["height", "command"]
    assert devices[0].height_msl_m == 33_000.0
    assert devices[1].keep_inside_deg is None


def test_an_area_may_lie_across_the_date_line(load):
    plan = load(
        ("latitude_deg = -37.38", "latitude_deg = -17.0"),
        ("longitude_deg = -64.60", "longitude_deg = 179.9"),
        ("latitude_deg = -36.22", "latitude_deg = -17.5"),
        ("longitude_deg = -65.44", "longitude_deg = -179.9"),
        ("[-39.2, -67.4]", "[-18, 179]"),
        ("[-39.2, -61.4]", "[-18, -179]"),
        ("[-34.8, -61.4]", "[-16, -179]"),
        ("[-34.8, -67.4]", "[-16, 179]"),
    )
    assert plan.flight_train.cut_downs[1].keep_inside_deg[1] == (-18.0, -179.0)


def test_commented_keys_of_the_example_hold_the_defaults(load, tmp_path):
    text = example_plan_text()
    alternatives = ("volume", "scale_lift", "free_lift", "height", "chance", "pressure", "temperature")
    kept = re.compile(rf"(?m)^# (?!(?:{'|'.join(alternatives)}) )([a-z_]+ = .*|\[\[[a-z_]+\]\])$")
    assert len(kept.findall(text)) >= 15
    path = tmp_path / "open.toml"
    path.write_text(kept.sub(r"\1", text), encoding="utf-8")
    said, silent = load_plan(path), load()
    assert said.limits == dataclasses.replace(silent.limits, landing_ground_height_msl_m=225.0)
    assert said.fill == silent.fill
    assert said.flight_train.canopy == silent.flight_train.canopy
    assert said.flight_train.gas == silent.flight_train.gas
    assert said.flight_train.envelope == dataclasses.replace(silent.flight_train.envelope, unstretched_diameter_m=1.56)
    assert said.assumptions == ()
    assert said.go == dataclasses.replace(silent.go, drift_most_m=150e3)
    assert said.window == silent.window
    assert said.balloon_options[0][1].mass_kg == pytest.approx(1.5)
    assert said.receivers[0].address == "tcp://127.0.0.1:8001"


def test_a_byte_order_mark_and_windows_line_ends_are_read(tmp_path):
    path = tmp_path / "notepad.toml"
    path.write_bytes(b"\xef\xbb\xbf" + example_plan_text().replace("\n", "\r\n").encode())
    assert load_plan(path).mission.name == "Where the steam goes"


def test_what_a_go_asks_comes_from_the_plan(load):
    plan = load(
        ("# surface_wind = ", "surface_wind = "), ("# casualty_expectation = 1e-4", "casualty_expectation = 3e-5"),
        ("# rain = 0.1", "rain = 3.6"), ("[rules]", "[rules]  # ours"),
    )  # fmt: skip
    assert plan.go.surface_wind_most_m_s == 6.0
    assert plan.go.casualty_expectation_most == 3e-5
    assert plan.go.rain_most == pytest.approx(1e-3)  # 3.6 mm/h is 3.6 kg m-2 in 3600 s
    assert plan.go.drive_time_most_s == 4 * 3600.0
    assert plan.equipment.payload_cut_downs == 2
    assert plan.legal.application_sent == datetime(2027, 1, 11, 12, tzinfo=UTC)
    assert plan.permissions[0].covers[0] == "icao.2.1"
    assert plan.permissions[0].until_utc == datetime(2027, 3, 1, tzinfo=UTC)
    assert plan.operator.phone == "+00 000 0000"
    assert [member.role for member in plan.crew] == ["flight director", "fill lead", "chase lead"]
