"""The prior file: what comes with pappus loads; what is wrong in a file of one's own is named."""

from __future__ import annotations

from dataclasses import fields, replace
from importlib import resources
from pathlib import Path

import numpy as np
import pytest

from pappus.errors import BadFile
from pappus.sources import prior_text, read_prior

BUILT_IN = resources.files("pappus.sources").joinpath("prior.toml").read_text("utf-8")


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_built_in_prior_says_what_it_rests_on() -> None:
    prior = read_prior()
    assert prior.wind.sd_m_s.shape == (len(prior.wind.level_pa), len(prior.wind.lead_s))
    assert prior.wind.level_pa[0] > prior.wind.level_pa[-1]
    assert {"wind.sd_m_s", "fall.exponent", "flight.drag_factor"} <= set(prior.evidence)


def test_units_become_si(tmp_path: Path) -> None:
    prior = read_prior(written(tmp_path, BUILT_IN.replace('name = "built in"', 'name = "ours"')))
    assert prior.name == "ours"
    assert prior.wind.level_pa.max() == pytest.approx(100_000.0)
    assert np.allclose(prior.wind.lead_s / 3600.0, [float(x) for x in line_of("leads_h")])
    assert prior.wind.large_distance_m == pytest.approx(1000.0 * float(line_of("large_distance_km")[0]))
    assert prior.flight.release_sd_s == pytest.approx(60.0 * float(line_of("release_sd_min")[0]))


def line_of(key: str) -> list[str]:
    line = next(line for line in BUILT_IN.splitlines() if line.startswith(f"{key} ="))
    return line.split("=")[1].strip(" []").split(", ")


@pytest.mark.parametrize(
    ("old", "new", "field"),
    [
        ("large_share = ", "large_share = 7.0 # ", "wind.large_share"),
        ("age_factor = ", 'age_factor = "much" # ', "wind.age_factor"),
        ("[fall]", "[fall]\nwobble = 3", "fall.wobble"),
        ("within_ln_sd = ", "# within_ln_sd = ", "fall.within_ln_sd"),
        ("levels_hpa = [", "levels_hpa = [1010.0, ", "wind.sd_m_s"),
        ("drag_factor = ", "drag_factor = true # ", "flight.drag_factor"),
        ("scatter_low_ln_sd = ", "scatter_low_ln_sd = 60 # ", "climb.scatter_low_ln_sd"),
        ("[climb]", "[climb]\nwobble = 3", "climb.wobble"),
    ],
)
def test_a_wrong_number_is_named(tmp_path: Path, old: str, new: str, field: str) -> None:
    assert old in BUILT_IN
    with pytest.raises(BadFile) as caught:
        read_prior(written(tmp_path, BUILT_IN.replace(old, new, 1)))
    assert [finding.field.split(": ")[1] for finding in caught.value.findings] == [field]


def test_no_file_and_no_toml(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="cannot be read"):
        read_prior(tmp_path / "none.toml")
    with pytest.raises(BadFile, match="not a TOML file"):
        read_prior(written(tmp_path, "[wind"))


def test_what_is_written_is_read_back(tmp_path: Path) -> None:
    built_in = read_prior()
    wind = replace(
        built_in.wind, sd_m_s=built_in.wind.sd_m_s * 1.5, age_factor=1.37, large_time_s=30_000.0,
        growth_beyond_per_s=2.5e-5,
    )  # fmt: skip
    fall = replace(built_in.flight.fall, exponent=0.31)
    scatter = replace(built_in.flight.climb_scatter, low_ln_sd=0.06, depth_m=2_500.0)
    flight = replace(built_in.flight, drag_factor=1.12, release_sd_s=0.0, fall=fall, climb_scatter=scatter)
    made = replace(built_in, name='from "our" flights', wind=wind, flight=flight, evidence={"fall.exponent": "5 falls"})
    text = prior_text(made)
    again = read_prior(written(tmp_path, text))
    assert again.name == made.name
    assert again.evidence == made.evidence
    assert again.flight == made.flight
    for field in fields(again.wind):
        assert np.allclose(getattr(again.wind, field.name), getattr(made.wind, field.name), rtol=1e-5)
    assert prior_text(again) == text
    assert "# Share of the variance" in text
