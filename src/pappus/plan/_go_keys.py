"""Keys of the plan file for the decision: what must hold, whose rules, what is allowed and carried."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated

from pydantic import Field

from pappus.plan._key import Chance, Section, key
from pappus.plan._leaves import Instant, Label, measured, text

_SENT, _TOLD = datetime(2027, 1, 11, 12, 0, tzinfo=UTC), datetime(2027, 2, 12, 20, 0, tzinfo=UTC)
_RELEASE, _UNTIL = datetime(2027, 2, 13, 12, 30, tzinfo=UTC), datetime(2027, 3, 1, tzinfo=UTC)


class GoKeys(Section):
    reach_wanted_height: Chance = key("Least chance to reach the wanted height.", "80 %", default="80 %")
    land_acceptably: Chance = key(
        "Least chance to land in no zone that is kept out, on no water, building, road or rail, and in a zone of "
        "permitted landing where such are drawn.",
        "80 %",
        default="80 %",
    )
    keep_out: Chance = key("Most chance to land in a zone that is kept out.", "1 %", default="1 %")
    leave_permit_area: Chance = key("Most chance to leave the permit area, up or down.", "1 %", default="1 %")
    water: Chance = key("Most chance to land on water.", "10 %", default="10 %")
    built_up: Chance = key("Most chance to land among buildings.", "1 %", default="1 %")
    road: Chance = key("Most chance to land on or right beside a wide or main road.", "2 %", default="2 %")
    rail: Chance = key("Most chance to land on or right beside a railway.", "1 %", default="1 %")
    power_line: Chance = key("Most chance to land near a power line.", "2 %", default="2 %")
    abroad: Chance = key("Most chance to fly over or land in another country.", "1 %", default="1 %")
    airspace: Chance = key("Most chance to enter a volume of airspace that no permission covers.", "1 %", default="1 %")
    casualty_expectation: Annotated[float, Field(gt=0.0, le=0.01)] = key(
        "Most expected casualties of one flight.", 1e-4, default=1e-4
    )
    surface_wind: Annotated[float, measured("speed", "1 m/s", "20 m/s")] = key(
        "Most mean wind at 10 m at release.", "6 m/s", default="6 m/s"
    )
    gust: Annotated[float, measured("speed", "1 m/s", "30 m/s")] = key(
        "Most gust at release.", "10 m/s", default="10 m/s"
    )
    cloud: Chance = key("Most cover of cloud at release.", "50 %", default="50 %")
    visibility: Annotated[float, measured("length", "100 m", "50 km")] = key(
        "Least visibility at release.", "8 km", default="8 km"
    )
    rain: Annotated[float, Field(ge=0.0, le=20.0)] = key(
        "Most rain at release, in millimetres an hour.", 0.1, default=0.1
    )
    sun_elevation: Annotated[float, Field(ge=-18.0, le=90.0)] | None = key(
        "Least elevation of the sun in degrees when the flight is at the wanted height; the picture asks for it.",
        10.0,
        otherwise="not asked",
    )
    forecast_age: Annotated[float, measured("time", "1 h", "384 h")] = key(
        "Most age of the newest winds when the release is judged.", "24 h", default="24 h"
    )
    drive: Annotated[float, measured("time", "5 min", "24 h")] | None = key(
        "Most drive from the site to the landing, in nine cases of ten.", "3 h", otherwise="not asked"
    )
    drift: Annotated[float, measured("length", "1 km", "1000 km")] | None = key(
        "Most distance from the site to the landing, in nine cases of ten.", "150 km", otherwise="not asked"
    )
    unknown: Chance = key("Most share of flights whose landing is not known.", "5 %", default="5 %")


class LandingKeys(Section):
    people_per_km2: Annotated[float, Field(ge=0.0, le=50_000.0)] | None = key(
        "People on a square kilometre in the open country; towns with known population are added to it.",
        2.0,
        otherwise="a prior, named in the answer",
    )


class RulesKeys(Section):
    profile: Annotated[str, text(200)] = key(
        "Whose rules: icao, us, a country that pappus has a profile of, or a profile file beside the plan.",
        "icao",
        default="icao",
    )
    application_sent: Instant | None = key("When the permit was asked for.", _SENT, otherwise="cannot be told")
    notice_given: Instant | None = key(
        "When the air traffic service was told of the flight.", _TOLD, otherwise="cannot be told"
    )
    notified_release: Instant | None = key(
        "The time of release that it was told.", _RELEASE, otherwise="cannot be told"
    )
    position_interval: Annotated[float, measured("time", "1 s", "48 h")] | None = key(
        "Longest planned time between recorded positions.", "10 s", otherwise="cannot be told"
    )
    drops_object: bool | None = key("Something is meant to fall off on the way.", False, otherwise="cannot be told")
    assembly_near: bool | None = key(
        "People in the open who do not belong to the flight are under the first 300 m of the climb.",
        False,
        otherwise="cannot be told",
    )
    control_zone: bool | None = key("The site lies in a control zone.", False, otherwise="cannot be told")
    radar_in_use: bool | None = key("Secondary radar is in use on the way.", True, otherwise="cannot be told")
    ads_b_in_use: bool | None = key(
        "Ground stations for broadcast positions are in use on the way.", True, otherwise="cannot be told"
    )
    meteorological_only: bool | None = key(
        "The flight serves meteorology alone, in the manner that the authority prescribes.",
        False,
        otherwise="cannot be told",
    )


class PermissionKeys(Section):
    covers: Annotated[list[Label], Field(min_length=1, max_length=50)] = key(
        "Ids of rules, and names of airspace volumes as their file has them.", ["icao.2.1", "TESTVIK CTA 1"]
    )
    reference: Annotated[str, text(80)] = key("Its number, as the paper has it.", "UFB 12/27")
    given_by: Annotated[str, text(80)] = key("Who gave it.", "civil aviation authority")
    until: Instant | None = key("Until when it holds.", _UNTIL, otherwise="no end is noted")


class EquipmentKeys(Section):
    trackers: Annotated[list[Label], Field(min_length=1, max_length=20)] | None = key(
        "Callsigns or ids of the trackers on the train; only these are taken for the balloon.",
        ["X0XX-11"],
        otherwise="whatever is heard is taken for the balloon",
    )
    radar_reflector: bool | None = key(
        "A reflector for surface radar (200 to 2700 MHz) hangs on the train.", True, otherwise="cannot be told"
    )
    continuous_tracking: bool | None = key(
        "The operator can follow the flight beyond the range of ground radar.", True, otherwise="cannot be told"
    )
    transponder: bool | None = key(
        "A transponder that tells pressure altitude flies along.", False, otherwise="cannot be told"
    )
    ads_b: bool | None = key("A transmitter that broadcasts position flies along.", False, otherwise="cannot be told")
    light_visible: Annotated[float, measured("length", "0 m", "100 km")] | None = key(
        "How far the lights are seen; 0 m without lights.", "0 m", otherwise="cannot be told"
    )
    light_flashes: Annotated[float, Field(ge=0.0, le=600.0)] | None = key(
        "Flashes of the lights a minute.", 60.0, otherwise="cannot be told"
    )
    train_marked: bool | None = key(
        "The train carries conspicuous bands or pennants that are seen from a mile.", True, otherwise="cannot be told"
    )
    owner_marked: bool | None = key(
        "Name and address of the owner stand on the load.", True, otherwise="cannot be told"
    )
    antenna_breaking_force: Annotated[float, measured("force", "0 N", "10 kN")] | None = key(
        "Force that breaks the trailing antenna; 0 N when none trails.", "0 N", otherwise="cannot be told"
    )
    antenna_pennant_spacing: Annotated[float, measured("length", "10 cm", "1 km")] | None = key(
        "Largest distance between pennants on the trailing antenna.", "10 m", otherwise="cannot be told"
    )
    envelope_terminators: Annotated[int, Field(ge=0, le=10)] | None = key(
        "Independent ways to end the flight of the balloon itself; its own burst is commonly argued to be one: ask.",
        1,
        otherwise="cannot be told",
    )
