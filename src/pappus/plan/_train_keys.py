"""Keys of the plan file for all that flies: balloon, gas, fill, canopy, boxes, lines, cut-downs."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from pappus.plan._key import Chance, HeightAloft, Section, key, section
from pappus.plan._leaves import Label, measured

Edge = Annotated[float, measured("length", "1 cm", "5 m")]
TrainPartMass = Annotated[float, measured("mass", "1 g", "30 kg")]


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


class FillOptionKeys(FillKeys):
    name: Label = key("What the fill is called in the launch window.", "slow")


class BalloonOptionKeys(BalloonKeys):
    name: Label = key("What the balloon is called in the launch window.", "1500 g")
