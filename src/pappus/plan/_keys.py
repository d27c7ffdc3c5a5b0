"""Every key of the plan file: meaning, example, default and bounds. ``docs/plan.md`` is made from this."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from pappus.plan._leaves import Instant, Label, Latitude, Longitude, Zone, measured, text

Edge = Annotated[float, measured("length", "1 cm", "5 m")]
HeightAloft = Annotated[float, measured("length", "500 m", "50 km")]
TrainPartMass = Annotated[float, measured("mass", "1 g", "30 kg")]
Chance = Annotated[float, measured("fraction", "0 %", "100 %")]

_OPENS = datetime(2027, 2, 13, 11, 0, tzinfo=UTC)
_RELEASE = datetime(2027, 2, 13, 12, 30, tzinfo=UTC)
_CLOSES = datetime(2027, 2, 13, 16, 0, tzinfo=UTC)


def key(meaning: str, example: Any, *, default: Any = ..., otherwise: str = "") -> Any:
    """A key. It is required unless it has a default (as it would stand in the file) or says what happens otherwise."""
    if otherwise:
        default = None
    return Field(default, description=meaning, examples=[example], json_schema_extra={"otherwise": otherwise})


def section(meaning: str, *, required: bool = True) -> Any:
    """A table of the file."""
    return Field(... if required else None, description=meaning)


class Section(BaseModel):
    """A table of the file: every key is known, and nothing is converted silently."""

    model_config = ConfigDict(extra="forbid", strict=True, validate_assignment=True, allow_inf_nan=False)


class MissionKeys(Section):
    name: Annotated[str, text(80)] = key("What the flight is called.", "Night kettle")
    client: Annotated[str, text(80)] | None = key("For whom it is flown.", "A workshop", otherwise="not named")
    wanted_height: Annotated[float, measured("length", "1 km", "50 km")] = key(
        "The height to reach, above mean sea level.", "31 km"
    )
    time_zone: Zone = key("IANA name of the time zone of the crew.", "America/Argentina/Salta")
    heights_of_interest: Annotated[list[HeightAloft], Field(min_length=1, max_length=10)] = key(
        "Heights above mean sea level for which times and chances are told.",
        ["26 km", "30 km"],
        default=["26 km", "30 km"],
    )
    about: Annotated[str, text(600)] | None = key(
        "Free text, shown wherever the plan is shown.", "Invented example", otherwise="nothing is shown"
    )


class SiteKeys(Section):
    name: Annotated[str, text(12)] = key("Short name of the site.", "A")
    place: Annotated[str, text(80)] = key("Where it is, in words.", "field north of the village")
    latitude_deg: Latitude = key("Latitude in degrees, north positive, WGS84.", -37.38)
    longitude_deg: Longitude = key("Longitude in degrees, east positive, WGS84.", -64.6)
    height: Annotated[float, measured("length", "-450 m", "6 km")] = key("Ground above mean sea level.", "225 m")
    pressure: Annotated[float, measured("pressure", "400 hPa", "1100 hPa")] | None = key(
        "Air pressure at the site when filling, not reduced to sea level.",
        "987 hPa",
        otherwise="from the winds",
    )
    temperature: Annotated[float, measured("temperature", "-60 °C", "55 °C")] | None = key(
        "Air temperature at the site when filling.", "21 °C", otherwise="from the winds"
    )


class BalloonKeys(Section):
    mass: Annotated[float, measured("mass", "10 g", "6 kg")] = key("Mass of the empty balloon.", "1200 g")
    burst_diameter: Annotated[float, measured("length", "20 cm", "40 m")] | None = key(
        "Diameter at burst, from the maker's sheet of the batch.",
        "8.6 m",
        otherwise="a power law of the mass, fitted to a table of sounding balloons and marked as a prior",
    )
    burst_scatter: Annotated[float, measured("fraction", "0 %", "40 %")] | None = key(
        "Standard deviation of the logarithm of the burst diameter.",
        "6 %",
        otherwise="6 % with a burst diameter, 8 % without",
    )
    early_burst_chance: Chance = key(
        "Chance of a burst anywhere between 8 km and the nominal height; higher in rain, at night and in polar winter.",
        "5 %",
        default="5 %",
    )
    unstretched_diameter: Annotated[float, measured("length", "5 cm", "10 m")] | None = key(
        "Diameter at which the film begins to stretch.", "1.5 m", otherwise="burst diameter / 5.5"
    )


class CylinderKeys(Section):
    volume: Annotated[float, measured("volume", "0.5 L", "3000 L")] = key("Water volume of one cylinder.", "50 L")
    pressure: Annotated[float, measured("pressure", "2 bar", "400 bar")] = key(
        "Absolute pressure in the cylinder: reading of the gauge plus 1 bar.", "200 bar"
    )
    temperature: Annotated[float, measured("temperature", "-40 °C", "60 °C")] = key(
        "Temperature of the cylinder when the gauge is read.", "15 °C"
    )
    residual: Annotated[float, measured("pressure", "0 bar", "400 bar")] = key(
        "Absolute pressure that is left in the cylinder.", "3 bar"
    )


class GasKeys(Section):
    kind: Literal["helium", "hydrogen"] = key("Lifting gas: helium or hydrogen.", "helium")
    purity: Annotated[float, measured("fraction", "50 %", "100 %")] = key(
        "Share of the named gas; the rest counts as air.", "99 %", default="99 %"
    )
    cylinder: CylinderKeys | None = section(
        "One gas cylinder as it stands at the site, to know how many are needed.", required=False
    )


class FillKeys(Section):
    volume: Annotated[float, measured("volume", "10 L", "100 m³")] | None = key(
        "Gas volume at the pressure and temperature of the site.", "3.3 m³", otherwise="one of the five ways is given"
    )
    scale_lift: Annotated[float, measured("force", "1 gf", "60 kgf")] | None = key(
        "Net pull at the neck (gross lift less the balloon), read on the scale before the train is tied on.",
        "2150 gf",
        otherwise="one of the five ways is given",
    )
    free_lift: Annotated[float, measured("force", "1 gf", "30 kgf")] | None = key(
        "Pull that is left when the train hangs on.", "1150 gf", otherwise="one of the five ways is given"
    )
    climb: Annotated[float, measured("speed", "0.5 m/s", "15 m/s")] | None = key(
        "Mean climb over the first 5 km.", "5 m/s", otherwise="one of the five ways is given"
    )
    height: HeightAloft | None = key(
        "As much climb as still reaches this height above mean sea level with the chance below.",
        "30 km",
        otherwise="one of the five ways is given",
    )
    chance: Annotated[float, measured("fraction", "1 %", "99 %")] | None = key(
        "Chance to reach `height`; belongs to it alone.", "80 %", otherwise="only with height"
    )
    scale_scatter: Annotated[float, measured("force", "0 N", "20 N")] = key(
        "Standard deviation of the lift as filled: the scale, and the wind on the balloon.", "30 gf", default="0.5 N"
    )


class CanopyKeys(Section):
    mass: TrainPartMass = key("Mass of the parachute with its lines.", "190 g")
    area: Annotated[float, measured("area", "0.05 m²", "100 m²")] = key("Constructed area of the cloth.", "1.5 m²")
    drag_coefficient: Annotated[float, Field(ge=0.3, le=2.5)] = key("Drag coefficient on that area.", 0.8)
    spread: Annotated[float, measured("fraction", "0 %", "100 %")] = key(
        "Standard deviation of the logarithm of area times drag coefficient.", "18 %", default="18 %"
    )
    fall_exponent: Annotated[float, Field(ge=0.0, le=1.0)] | None = key(
        "n in: fall speed goes with air density to the power -n. 0.5 is a constant drag area; real falls show less.",
        0.35,
        otherwise="from the prior file",
    )
    fall_exponent_spread: Annotated[float, Field(ge=0.0, le=0.5)] | None = key(
        "Standard deviation of that exponent.", 0.12, otherwise="from the prior file"
    )
    fall_wobble: Annotated[float, measured("fraction", "0 %", "60 %")] | None = key(
        "Standard deviation of the logarithm of the fall speed about that law, from layer to layer.",
        "15 %",
        otherwise="from the prior file",
    )
    fouled_chance: Chance = key(
        "Chance that the rest of the balloon fouls the canopy; higher with a short line to the neck.",
        "10 %",
        default="10 %",
    )


class PackageKeys(Section):
    name: Label = key("Name of the box.", "camera")
    mass: TrainPartMass = key("Mass, ready to fly.", "560 g")
    edges: Annotated[list[Edge], Field(min_length=3, max_length=3)] = key(
        "Its three edges.", ["20 cm", "18 cm", "15 cm"]
    )


class LineKeys(Section):
    name: Label = key("Name of the line: from where to where.", "neck to canopy")
    length: Annotated[float, measured("length", "1 cm", "500 m")] = key("Length under load.", "10 m")
    mass: Annotated[float, measured("mass", "0.1 g", "30 kg")] = key("Mass.", "20 g")
    breaking_force: Annotated[float, measured("force", "0.1 N", "100 kN")] | None = key(
        "Force at which the line parts; many rules for unmanned free balloons ask for it.", "200 N", otherwise="unknown"
    )


class CutDownKeys(Section):
    name: Label = key("Name of the device or pair of devices.", "timer")
    devices: Annotated[int, Field(ge=1, le=10)] = key("How many independent devices of this kind hang on the train.", 1)
    trigger: Literal["time", "height", "area", "command"] = key("What fires it: time, height, area or command.", "time")
    link: Label = key("How it is fired or watched.", "own clock")
    after: Annotated[float, measured("time", "1 min", "48 h")] | None = key(
        "With trigger time: after release.", "130 min", otherwise="only with trigger time"
    )
    height: HeightAloft | None = key(
        "With trigger height: above mean sea level.", "33 km", otherwise="only with trigger height"
    )
    keep_inside: (
        Annotated[list[Annotated[list[float], Field(min_length=2, max_length=2)]], Field(min_length=3, max_length=500)]
        | None
    ) = key(
        "With trigger area: corners as [latitude, longitude] in degrees; it fires when the flight leaves the area.",
        [[-38.5, -67.0], [-38.5, -61.5], [-35.0, -61.5], [-35.0, -67.0]],
        otherwise="only with trigger area",
    )


class WindowKeys(Section):
    opens: Instant = key("Earliest release, a date and time with Z or an offset, no quotes.", _OPENS)
    closes: Instant = key("Latest release.", _CLOSES)
    release: Instant | None = key(
        "Planned release inside the window.",
        _RELEASE,
        otherwise="when the window opens",
    )


class LimitsKeys(Section):
    sounding_distance: Annotated[float, measured("length", "1 km", "2000 km")] = key(
        "A sounding from farther away is not used.", "200 km", default="200 km"
    )
    sounding_age: Annotated[float, measured("time", "10 min", "72 h")] = key(
        "A sounding is not used for flights earlier or later than this.", "12 h", default="12 h"
    )
    forecast_age: Annotated[float, measured("time", "1 h", "384 h")] = key(
        "A model run is not flown for a release later after its start than this.", "96 h", default="96 h"
    )
    extrapolation_above_top: Annotated[float, measured("length", "0 m", "20 km")] = key(
        "How far above the top of the winds a flight may be computed; such a part is named in the answer.",
        "5 km",
        default="5 km",
    )
    least_climb: Annotated[float, measured("speed", "0.5 m/s", "10 m/s")] = key(
        "A slower climb is a warning: the flight goes far.", "2 m/s", default="2 m/s"
    )
    longest_flight: Annotated[float, measured("time", "30 min", "72 h")] = key(
        "A flight that is still in the air after this counts as not landed.", "6 h", default="6 h"
    )
    landing_ground_height: Annotated[float, measured("length", "-450 m", "6 km")] | None = key(
        "Ground above mean sea level where the flight lands.",
        "200 m",
        otherwise="the ground of the forecast model, else as high as the site",
    )


class ScatterKeys(Section):
    """What varies from flight to flight and belongs to no single part; left out, the prior file says it."""

    drag_factor: Annotated[float, Field(ge=0.3, le=3.0)] | None = key(
        "Drag of your balloons against the built-in law, from your own flights.", 1.05, otherwise="from the prior file"
    )
    drag_factor_spread: Annotated[float, measured("fraction", "0 %", "60 %")] | None = key(
        "Standard deviation of its logarithm.", "12 %", otherwise="from the prior file"
    )
    gas_warmth_spread: Annotated[float, Field(ge=0.0, le=40.0)] | None = key(
        "Standard deviation of the gas temperature by day, in kelvin at the top of the air.",
        8.0,
        otherwise="from the prior file",
    )
    leak_chance: Chance | None = key("Chance that gas escapes on the way.", "2 %", otherwise="from the prior file")
    leak_per_hour: Annotated[float, measured("fraction", "0 %", "90 %")] | None = key(
        "The largest share of the gas that escapes in an hour then.", "10 %", otherwise="from the prior file"
    )
    release_spread: Annotated[float, measured("time", "0 min", "3 h")] | None = key(
        "How late the release may be: the size of a normal with this standard deviation.",
        "5 min",
        otherwise="from the prior file",
    )


class EnsembleKeys(Section):
    flights: Annotated[int, Field(ge=50, le=100_000)] = key("How many flights are drawn.", 1000, default=1000)
    seed: Annotated[int, Field(ge=0, le=2**63 - 1)] = key("The same seed draws the same flights again.", 1, default=1)
    run_half_life: Annotated[float, measured("time", "1 h", "240 h")] | None = key(
        "Of several model runs, one older by this than the newest gets half as many flights.",
        "12 h",
        otherwise="all runs get as many",
    )


class PlanKeys(Section):
    mission: MissionKeys = section("What the flight is for.")
    site: list[SiteKeys] = section("A place the flight may leave from; one block for each, up to 20.")
    balloon: BalloonKeys = section("The latex balloon.")
    gas: GasKeys = section("The lifting gas.")
    fill: FillKeys = section(
        "How much gas goes in: exactly one of `volume`, `scale_lift`, `free_lift`, `climb` or `height`."
    )
    canopy: CanopyKeys = section("The parachute.")
    package: list[PackageKeys] = section("A box on the train; one block for each, up to 20.")
    line: list[LineKeys] = section("A line of the train; one block for each, up to 20.")
    cut_down: list[CutDownKeys] | None = section(
        "What may separate the train from the balloon; one block for each, up to 20.", required=False
    )
    window: WindowKeys = section("When the flight may leave.")
    limits: LimitsKeys | None = section("When pappus warns or refuses.", required=False)
    scatter: ScatterKeys | None = section("What varies from flight to flight.", required=False)
    ensemble: EnsembleKeys | None = section("How many flights are drawn.", required=False)
