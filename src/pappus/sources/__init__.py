"""Everything that comes from outside: soundings, forecasts, and the data files that the build took from packages."""

from pappus.sources._centre_fetch import Fetched, FetchedFile, fetch, join_fetched
from pappus.sources._centre_plan import plan_fetch
from pappus.sources._centre_wish import FetchPlan, FetchWish
from pappus.sources._centres import CENTRES, Centre
from pappus.sources._column import to_wind_field
from pappus.sources._download_rules import DownloadRules, NotFetched
from pappus.sources._forecast import looks_like_column_forecast, looks_like_forecast, read_forecast
from pappus.sources._forecast_cube import Forecast
from pappus.sources._forecast_pairs import ForecastPairs, looks_like_forecast_pairs, read_forecast_pairs
from pappus.sources._invented import invented_sounding_csv
from pappus.sources._invented_forecast import FILE_NAME as INVENTED_FORECAST_NAME
from pappus.sources._invented_forecast import write_invented_forecast
from pappus.sources._openair import AirspaceFile, read_openair
from pappus.sources._osm import MapExtract, read_map_extract
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
from pappus.sources._read import read_sounding
from pappus.sources._sounding import Sounding
from pappus.sources._terrain import read_terrain
from pappus.sources._zones_file import ZonesFile, read_zones

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
    "Pack",
    "PackFile",
    "Prior",
    "Sounding",
    "ZonesFile",
    "damage",
    "data_attributions",
    "digest",
    "fetch",
    "invented_sounding_csv",
    "join_fetched",
    "load_geoid",
    "load_map_lines",
    "load_places",
    "looks_like_column_forecast",
    "looks_like_forecast",
    "looks_like_forecast_pairs",
    "plan_fetch",
    "prior_text",
    "put_file",
    "read_forecast",
    "read_forecast_pairs",
    "read_map_extract",
    "read_openair",
    "read_pack",
    "read_prior",
    "read_sounding",
    "read_terrain",
    "read_zones",
    "to_wind_field",
    "unique_name",
    "write_invented_forecast",
    "write_pack",
]
