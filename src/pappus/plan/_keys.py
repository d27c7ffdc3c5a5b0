"""Every key of the plan file: meaning, example, default and bounds. ``docs/plan.md`` is made from this."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated

from pydantic import Field

from pappus.plan._go_keys import EquipmentKeys, GoKeys, LandingKeys, PermissionKeys, RulesKeys
from pappus.plan._key import Chance, HeightAloft, Section, key, section
from pappus.plan._leaves import Instant, Latitude, Longitude, Zone, measured, text
from pappus.plan._people_keys import CallKeys, CrewKeys, OperatorKeys, ReceiverKeys, VehicleKeys
from pappus.plan._train_keys import (
    BalloonKeys,
    BalloonOptionKeys,
    CanopyKeys,
    CutDownKeys,
    FillKeys,
    FillOptionKeys,
    GasKeys,
    LineKeys,
    PackageKeys,
)

_OPENS = datetime(2027, 2, 13, 11, 0, tzinfo=UTC)
_RELEASE = datetime(2027, 2, 13, 12, 30, tzinfo=UTC)
_CLOSES = datetime(2027, 2, 13, 16, 0, tzinfo=UTC)


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


class WindowKeys(Section):
    opens: Instant = key("Earliest release, a date and time with Z or an offset, no quotes.", _OPENS)
    closes: Instant = key("Latest release.", _CLOSES)
    release: Instant | None = key(
        "Planned release inside the window.",
        _RELEASE,
        otherwise="when the window opens",
    )
    step: Annotated[float, measured("time", "5 min", "24 h")] = key(
        "Time between two launches that are compared.", "1 h", default="1 h"
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
    climb_wobble: Annotated[float, measured("fraction", "0 %", "60 %")] | None = key(
        "How a climb strays from its law with height: standard deviation of the logarithm of its rate.",
        "12 %",
        otherwise="from the prior file",
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
    fill_option: list[FillOptionKeys] | None = section(
        "Another fill that is compared with the one above; one block for each, up to 20.", required=False
    )
    balloon_option: list[BalloonOptionKeys] | None = section(
        "Another balloon that is compared with the one above; one block for each, up to 20.", required=False
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
    go: GoKeys | None = section("What must hold for a go; every chance is one of all flights.", required=False)
    landing: LandingKeys | None = section("What is known of the ground where the flights come down.", required=False)
    rules: RulesKeys | None = section("Whose rules the flight is held against.", required=False)
    permission: list[PermissionKeys] | None = section(
        "What an authority or a landowner has allowed; one block for each, up to 20.", required=False
    )
    equipment: EquipmentKeys | None = section("What the train carries that rules ask for.", required=False)
    operator: OperatorKeys | None = section("Who answers for the flight.", required=False)
    crew: list[CrewKeys] | None = section("Who does what; one block for each, up to 20.", required=False)
    call: list[CallKeys] | None = section("Who is called when; one block for each, up to 20.", required=False)
    vehicle: list[VehicleKeys] | None = section("A chase vehicle; one block for each, up to 20.", required=False)
    receiver: list[ReceiverKeys] | None = section(
        "Where packets of the flight day come from; one block for each, up to 20.", required=False
    )
