"""The briefing folder: written whole or not at all."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

from pappus.decision import to_json as decision_json
from pappus.errors import BadInput, Finding
from pappus.export import (
    MapLayers,
    briefing_html,
    deadlines_calendar,
    document_html,
    document_pdf,
    draw_height_time,
    draw_landing_map,
    draw_wind_profile,
    flight_gpx,
    flight_kml,
    landing_geojson,
)
from pappus.ground import MapLines, PlaceIndex
from pappus.preflight.briefing import Briefing, briefing_json, briefing_page, say_winds
from pappus.preflight.papers._document import Papers, briefing_document
from pappus.sources import load_geoid
from pappus.trajectory import flight_knots
from pappus.units import say_time

PICTURES = {
    "map.png": "Landing area on the map",
    "height-time.png": "Height against time",
    "wind-profile.png": "Wind and temperature against height",
}
DECISION = "decision.json"
"""What was decided, for the next briefing to say what changed."""
DOCUMENTS = ("document.html", "document-a4.pdf", "document-letter.pdf")
NOTICES = ("deadlines.ics", "draft-notices.txt")
FILES = (
    "briefing.html", "briefing.txt", "briefing.json", "landing.geojson", "flight.kml", "flight.gpx", *PICTURES,
    *DOCUMENTS, *NOTICES, DECISION,
)  # fmt: skip


def to_json(value: dict[str, object]) -> str:
    """JSON text; times in UTC, numbers that are not finite become null."""
    return json.dumps(_plain(value), indent=2, ensure_ascii=False)


def _plain(value: object) -> object:
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, datetime):
        return value.strftime("%Y-%m-%dT%H:%M:%SZ")
    if isinstance(value, np.ndarray):
        return _plain(value.tolist())
    if isinstance(value, np.generic):
        return _plain(value.item())
    if isinstance(value, float) and not np.isfinite(value):
        return None
    return value


def write_folder(
    briefing: Briefing,
    folder: Path,
    text: str,
    lines: MapLines | None,
    places: PlaceIndex | None,
    layers: MapLayers | None = None,
    *,
    papers: Papers | None = None,
    made_utc: datetime | None = None,
) -> None:
    """Write ``folder`` with the briefing in every form; an older folder of that name is replaced at the end.

    With ``papers`` and the time ``made_utc`` the briefing document is in it too, for a screen and for both papers.
    Everything is made in a folder beside it first, so that a crash leaves the old one, or nothing.
    """
    folder = folder.absolute()
    require_folder(folder)
    folder.parent.mkdir(parents=True, exist_ok=True)
    making = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    try:
        (making / "briefing.txt").write_text(text, encoding="utf-8")
        (making / "briefing.json").write_text(to_json(briefing_json(briefing)) + "\n", encoding="utf-8")
        _draw(briefing, making, lines, places, layers)
        _hand_out(briefing, making)
        if papers is not None and made_utc is not None:
            _write_document(briefing, making, papers, made_utc, lines, places, layers)
        making.chmod(0o755)
        if folder.exists():
            old = Path(tempfile.mkdtemp(prefix=f".{folder.name}-old-", dir=folder.parent))
            os.replace(folder, old / "was")
            os.replace(making, folder)
            shutil.rmtree(old)
        else:
            os.replace(making, folder)
    except BaseException:
        shutil.rmtree(making, ignore_errors=True)
        raise


def _write_document(
    briefing: Briefing, folder: Path, papers: Papers, made_utc: datetime, lines: MapLines | None,
    places: PlaceIndex | None, layers: MapLayers | None,
) -> None:  # fmt: skip
    document = briefing_document(
        briefing, papers, made_utc=made_utc, pictures=_pictures(folder), lines=lines, places=places, layers=layers
    )
    page, a4, letter = DOCUMENTS
    (folder / page).write_text(document_html(document), encoding="utf-8")
    (folder / a4).write_bytes(document_pdf(document, paper="A4"))
    (folder / letter).write_bytes(document_pdf(document, paper="Letter"))
    if papers.decision is not None:
        (folder / DECISION).write_text(to_json(decision_json(papers.decision)) + "\n", encoding="utf-8")
    calendar, notices = NOTICES
    if papers.due:
        mission = briefing.plan.mission
        (folder / calendar).write_bytes(
            deadlines_calendar(
                papers.due, plan_name=mission.name, release_utc=briefing.release, now=made_utc,
                note=mission.about or "",
            )
        )  # fmt: skip
    if papers.drafts:
        texts = [f"{draft.title}\n\n{draft.text.rstrip()}\n" for draft in papers.drafts]
        (folder / notices).write_text(("\n" + "-" * 72 + "\n\n").join(texts), encoding="utf-8")


def _pictures(folder: Path) -> dict[str, bytes]:
    return {caption: (folder / name).read_bytes() for name, caption in PICTURES.items()}


def require_folder(folder: Path) -> None:
    """Only a folder that an earlier briefing made may be replaced: nothing of the crew's is ever deleted."""
    if folder.is_dir():
        foreign = sorted({path.name for path in folder.iterdir()} - set(FILES))
        if not foreign:
            return
        reason = f"the folder holds files that no briefing wrote: {', '.join(foreign[:3])}"
    elif folder.exists():
        reason = "a file of that name exists"
    else:
        return
    raise BadInput(Finding("--out", str(folder), reason, "Give a new folder name, for example briefing-1."))


def _hand_out(briefing: Briefing, folder: Path) -> None:
    """The page for a browser, and the flight for maps of every kind."""
    plan, site = briefing.plan, briefing.site
    title = f"{plan.mission.name} - site {site.name}"
    flight: dict[str, Any] = {
        "area": briefing.area,
        "nominal": briefing.nominal,
        "site_name": site.name,
        "site_latitude_deg": site.latitude_deg,
        "site_longitude_deg": site.longitude_deg,
        "release": briefing.release,
        "name": plan.mission.name,
        "note": plan.mission.about or "",
    }
    cloud: dict[str, Any] = {"flights": briefing.flights, "off_nominal": briefing.off_nominal}
    for name, text in (
        ("briefing.html", briefing_html(briefing_page(briefing), title=title, pictures=_pictures(folder))),
        ("landing.geojson", landing_geojson(**flight, **cloud, geoid=load_geoid())),
        ("flight.kml", flight_kml(**flight, **cloud)),
        ("flight.gpx", flight_gpx(**flight)),
    ):
        (folder / name).write_text(text, encoding="utf-8")


def _draw(
    briefing: Briefing, folder: Path, lines: MapLines | None, places: PlaceIndex | None, layers: MapLayers | None
) -> None:
    plan, site, field = briefing.plan, briefing.site, briefing.field
    zone = plan.mission.time_zone
    release = say_time(briefing.release, zone, date=True)
    title = f"{plan.mission.name} - site {site.name}, release {release}"
    winds = "Winds: " + "; ".join(say_winds(one) for one in briefing.known) + "."
    footer = winds if plan.mission.about is None else f"{plan.mission.about}\n{winds}"
    draw_landing_map(
        folder / "map.png",
        area=briefing.area,
        flights=briefing.flights,
        nominal=briefing.nominal,
        off_nominal=briefing.off_nominal,
        site_name=site.name,
        site_latitude_deg=site.latitude_deg,
        site_longitude_deg=site.longitude_deg,
        lines=lines,
        places=places,
        layers=layers,
        title=title,
        footer=footer,
    )
    draw_height_time(
        folder / "height-time.png",
        flights=briefing.flights,
        nominal=briefing.nominal,
        release=briefing.release,
        zone=zone,
        wanted_height_msl_m=plan.mission.wanted_height_msl_m,
        winds_top_msl_m=field.coverage.top_msl_m,
        ground_msl_m=float(briefing.ground.height_msl_m(site.latitude_deg, site.longitude_deg)),
        title=title,
        footer=footer,
    )
    draw_wind_profile(
        folder / "wind-profile.png",
        field=field,
        nominal=briefing.nominal,
        known_top_msl_m=field.coverage.top_msl_m,
        wind_sd_m_s=flight_knots(field, briefing.nominal, briefing.prior.wind).total_sd_m_s[0],
        title=title,
        footer=footer,
    )
