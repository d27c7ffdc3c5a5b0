"""The example plan moved to another place and day."""

from __future__ import annotations

import re

from pappus.plan import example_plan_text


def plan_at(
    latitude_deg: float, longitude_deg: float, height: str, release_utc: str, zone: str, *changes: tuple[str, str]
) -> str:
    """The example with one site, no cut-downs, and the window around ``release_utc`` on that day."""
    day = release_utc[:10]
    text = example_plan_text()
    text = re.sub(r"\[\[site\]\]\nname = \"B\".*?(?=\n# The latex balloon)", "", text, flags=re.S)
    text = re.sub(r"\[\[cut_down\]\].*?(?=\n# When the flight may leave)", "", text, flags=re.S)
    for old, new in (
        ("latitude_deg = -37.38", f"latitude_deg = {latitude_deg}"),
        ("longitude_deg = -64.60", f"longitude_deg = {longitude_deg}"),
        ('height = "225 m"', f'height = "{height}"'),
        ("America/Argentina/Salta", zone),
        ("2027-02-13T12:30:00Z", release_utc),
        ("2027-02-13T11:00:00Z", f"{day}T00:00:00Z"),
        ("2027-02-13T16:00:00Z", f"{day}T23:00:00Z"),
        *changes,
    ):
        assert old in text, f"the example no longer holds {old!r}"
        text = text.replace(old, new, 1)
    return text


LARGE_BALLOON = (
    ('mass = "1200 g"', 'mass = "3000 g"'),
    ('burst_diameter = "8.6 m"', 'burst_diameter = "13.5 m"'),
    ('wanted_height = "31 km"', 'wanted_height = "38 km"'),
    ('climb = "5 m/s"', 'climb = "5 m/s"'),
    ('mass = "560 g"', 'mass = "300 g"'),
)
"""A light train under 3 kg of latex, to 40 km: invented, as the rest of the plan."""
