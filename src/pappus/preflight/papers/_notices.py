"""What has to be told to air traffic services about a briefing: the numbers of the notice, deadlines, drafts."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pappus.airspace import pressure_altitude_m
from pappus.earth import geodesic_inverse
from pappus.preflight.briefing import AREA_LEVEL, Briefing, after
from pappus.preflight.winds import site_air
from pappus.rules import (
    Deadline,
    Draft,
    FlightNotice,
    RuleFacts,
    RuleProfile,
    RuleSet,
    TrackPoint,
    cancellation,
    deadlines,
    descent_report,
    end_report,
    launch_notice,
    launch_report,
    lost_position_report,
    notam_request,
    possible_classes,
    sixty_thousand_ft_m,
    train_facts,
)
from pappus.trajectory import AscentEnd

Array = NDArray[np.float64]

TRAJECTORY_STEP_S = 900.0


def flight_notice(briefing: Briefing, classes: tuple[str, ...] = ()) -> FlightNotice:
    """The numbers of the notice from the nominal flight and the 90 % area; what is not known stays a blank.

    :param classes: those that the balloon may belong to; one alone is told.
    """
    plan, site, nominal = briefing.plan, briefing.site, briefing.nominal
    train = plan.flight_train
    way = _Way(briefing)
    bearing = geodesic_inverse(
        site.latitude_deg, site.longitude_deg, float(nominal.top_latitude_deg[0]), float(nominal.top_longitude_deg[0])
    )[1]
    outline = [
        (float(latitude), float(longitude))
        for part in briefing.area.parts
        if part.probability == AREA_LEVEL
        for polygon in part.polygons
        for latitude, longitude in polygon[0]
    ]
    ended = int(nominal.ascent_end[0]) != AscentEnd.NONE
    return FlightNotice(
        identification=plan.mission.name,
        operator=plan.operator,
        site_name=f"{site.name}, {site.place}",
        site_latitude_deg=site.latitude_deg,
        site_longitude_deg=site.longitude_deg,
        release_utc=briefing.release,
        balloon_class=classes[0] if len(classes) == 1 else None,
        description=f"latex balloon of {train.envelope.mass_kg * 1000.0:.0f} g, {train.gas.kind}",
        envelope_diameter_m=briefing.fill.diameter_m,
        suspension_length_m=train_facts(train).suspension_length_m,
        payload_mass_kg=train.train_mass_kg,
        ascent_rate_m_s=briefing.climb_m_s,
        drift_toward_deg=bearing % 360.0,
        top_height_msl_m=briefing.nominal_top_msl_m,
        top_pressure_altitude_m=float(np.max(way.level_m[: way.top + 1])),
        climb_limit=way.passing(sixty_thousand_ft_m, up=True),
        burst=way.point(float(way.since_s[way.top])) if ended else None,
        descent_limit=way.passing(sixty_thousand_ft_m, up=False),
        trajectory=tuple(way.point(second) for second in np.arange(0.0, way.since_s[-1], TRAJECTORY_STEP_S)),
        landing=way.point(float(way.since_s[-1])) if nominal.landed[0] else None,
        landing_area_deg=tuple(outline),
        landing_area_level=AREA_LEVEL if outline else None,
    )


def due_and_drafts(
    briefing: Briefing, profile: RuleProfile, facts: RuleFacts | None = None
) -> tuple[tuple[Deadline, ...], tuple[Draft, ...]]:
    """What is due and when, and a draft of every text; nothing of it is sent.

    :param facts: what is known for the rules; leaves out what does not hold for this balloon.
    """
    release = briefing.release
    burst = after(release, briefing.burst_time_s.values[1])
    landing = None if briefing.arrival_s is None else after(release, briefing.arrival_s.values[1])
    classes = () if facts is None else tuple(sorted(possible_classes(profile, facts)))
    notice = flight_notice(briefing, classes)
    rule_set: RuleSet = "us" if profile.base == "us" else "icao"
    texts = (
        launch_notice(notice, rule_set),
        launch_report(notice, rule_set, None),
        descent_report(notice, rule_set, None),
        end_report(notice, rule_set, None),
        lost_position_report(notice, rule_set, None),
        cancellation(notice, rule_set),
    )
    asked = notam_request(notice, region=None)
    request = Draft("Request for a NOTAM", asked.text, (*asked.blanks, *asked.notes))
    return deadlines(profile, release, burst, landing, facts), (*texts, request)


class _Way:
    """The nominal flight by the seconds since its release, with the pressure altitude of each step."""

    def __init__(self, briefing: Briefing) -> None:
        nominal = briefing.nominal
        known = ~np.isnan(nominal.track_height_msl_m[0])
        self._briefing = briefing
        self.since_s: Array = nominal.track_time_s[0, known] - nominal.release_time_s
        self.latitude_deg: Array = nominal.track_latitude_deg[0, known]
        # over the date line longitudes run on
        self.longitude_deg: Array = np.unwrap(nominal.track_longitude_deg[0, known], period=360.0)
        self.height_msl_m: Array = nominal.track_height_msl_m[0, known]
        air = site_air(briefing.known[0], briefing.plan, briefing.site, briefing.release).profile
        # a landing may lie below the air that was looked up over the site: levels there matter to no notice
        known = np.maximum(self.height_msl_m, air.height_msl_m[0])
        self.level_m: Array = pressure_altitude_m(air.pressure_pa_at(known))
        self.top = int(np.argmax(self.height_msl_m))

    def point(self, second: float) -> TrackPoint:
        """Where it is so long after release."""
        columns = (self.latitude_deg, self.longitude_deg, self.height_msl_m, self.level_m)
        latitude, longitude, height, level = (float(np.interp(second, self.since_s, column)) for column in columns)
        longitude = (longitude + 180.0) % 360.0 - 180.0
        return TrackPoint(after(self._briefing.release, second), latitude, longitude, height, level)

    def passing(self, level_m: float, *, up: bool) -> TrackPoint | None:
        """Where it passes a pressure altitude; None when it does not."""
        steps = slice(0, self.top + 1) if up else slice(self.top, None)
        seconds, levels = self.since_s[steps], self.level_m[steps]
        if not (len(levels) > 1 and np.min(levels) <= level_m <= np.max(levels)):
            return None
        order = np.argsort(levels)
        return self.point(float(np.interp(level_m, levels[order], seconds[order])))
