"""Everything that comes from outside: soundings, forecasts, and the data files that the build took from packages."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pappus.sources._countries import load_countries
from pappus.sources._pack import (
    Pack,
    PackFile,
    damage,
    digest,
    put_file,
    read_pack,
    unique_name,
    write_pack,
)
from pappus.sources._package_data import DataAttribution, data_attributions, load_geoid, load_map_lines, load_places
from pappus.sources._prior import Prior, read_prior
from pappus.sources._prior_write import prior_text
from pappus.sources.centres import (
    CENTRES,
    Centre,
    DownloadRules,
    Fetched,
    FetchedFile,
    FetchPlan,
    FetchWish,
    NotFetched,
    fetch,
    join_fetched,
    plan_fetch,
)
from pappus.sources.forecasts import FILE_NAME as INVENTED_FORECAST_NAME
from pappus.sources.forecasts import (
    Forecast,
    ForecastPairs,
    looks_like_column_forecast,
    looks_like_forecast,
    looks_like_forecast_pairs,
    read_forecast,
    read_forecast_pairs,
    write_invented_forecast,
)
from pappus.sources.maps import (
    AirspaceFile,
    MapExtract,
    ZonesFile,
    read_map_extract,
    read_openair,
    read_terrain,
    read_zones,
    write_invented_maps,
)
from pappus.sources.rulebook import read_rule_profile, rule_profile_names
from pappus.sources.soundings import Sounding, invented_sounding_csv, read_sounding, to_wind_field

if TYPE_CHECKING:
    from pappus.sources.receivers import (
        NotUnderstood,
        Receiver,
        ReceiverSetting,
        ReceiverState,
        Sender,
        read_senders,
        receivers_from,
    )
    from pappus.sources.receivers import parse as parse_packet

__all__ = [
    "CENTRES",
    "INVENTED_FORECAST_NAME",
    "AirspaceFile",
    "Centre",
    "DataAttribution",
    "DownloadRules",
    "FetchPlan",
    "FetchWish",
    "Fetched",
    "FetchedFile",
    "Forecast",
    "ForecastPairs",
    "MapExtract",
    "NotFetched",
    "NotUnderstood",
    "Pack",
    "PackFile",
    "Prior",
    "Receiver",
    "ReceiverSetting",
    "ReceiverState",
    "Sender",
    "Sounding",
    "ZonesFile",
    "damage",
    "data_attributions",
    "digest",
    "fetch",
    "invented_sounding_csv",
    "join_fetched",
    "load_countries",
    "load_geoid",
    "load_map_lines",
    "load_places",
    "looks_like_column_forecast",
    "looks_like_forecast",
    "looks_like_forecast_pairs",
    "parse_packet",
    "plan_fetch",
    "prior_text",
    "put_file",
    "read_forecast",
    "read_forecast_pairs",
    "read_map_extract",
    "read_openair",
    "read_pack",
    "read_prior",
    "read_rule_profile",
    "read_senders",
    "read_sounding",
    "read_terrain",
    "read_zones",
    "receivers_from",
    "rule_profile_names",
    "to_wind_field",
    "unique_name",
    "write_invented_forecast",
    "write_invented_maps",
    "write_pack",
]

_OF_RECEIVERS = {
    "NotUnderstood": "NotUnderstood",
    "Receiver": "Receiver",
    "ReceiverSetting": "ReceiverSetting",
    "ReceiverState": "ReceiverState",
    "Sender": "Sender",
    "parse_packet": "parse",
    "read_senders": "read_senders",
    "receivers_from": "receivers_from",
}


def __getattr__(name: str) -> object:
    """Receivers are loaded with the first of their names: commands that hear nothing do not wait for them."""
    if name not in _OF_RECEIVERS:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from pappus.sources import receivers

    return getattr(receivers, _OF_RECEIVERS[name])
