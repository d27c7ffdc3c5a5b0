"""What a reader is told."""

from __future__ import annotations

from dataclasses import replace

from pappus.export import Grid, Sentences
from pappus.postflight.held_winds._page import persistence_sections
from pappus.postflight.held_winds._scores import persistence
from postflight.persistence_cases import PRIOR, ascent, later_by


def days(count: int):
    soundings = []
    for day in range(count):
        wind = (10.0 + (-2.0) ** (day % 3), 0.5 * day)
        soundings += [later_by(24.0 * day, ascent()), later_by(24.0 * day + 6.0, ascent(wind=wind))]
    return soundings


def words(section) -> str:
    return " ".join(section.lines) if isinstance(section, Sentences) else section.note


def test_the_scope_stands_first_and_the_factor_has_its_evidence() -> None:
    result = persistence(days(8), PRIOR)
    first = persistence_sections(result)[0]
    assert result.age_factor is not None
    assert "does not test the error of a weather model" in words(first)
    assert "not test a landing" in words(first)
    assert "8 pairs on 8 days. One factor on the spread of a held wind is fitted, nothing else: " in words(first)
    assert f"{result.age_factor.factor:.2f}" in words(first)
    assert "8 pairs no position was measured" in words(first)


def test_tables_have_a_row_for_each_height_and_judge_only_enough_pairs() -> None:
    for count, expected in ((8, {"yes", "no"}), (4, {"too few"})):
        grids = [s for s in persistence_sections(persistence(days(count), PRIOR)) if isinstance(s, Grid)]
        assert len(grids) == 2
        for grid in grids:
            assert [row[0] for row in grid.rows] == ["10", "15", "20", "25", "30"]
            assert all(len(row) == len(grid.columns) for row in grid.rows)
            assert {row[-1] for row in grid.rows} <= expected


def test_what_was_left_out_is_said() -> None:
    lone = later_by(100 * 24.0, replace(ascent(), station="lonely"))
    last = persistence_sections(persistence([*days(3), lone], PRIOR))[-1]
    assert last.title == "Not compared"
    assert "lonely" in words(last)
    untimed = [replace(s, time_s=None) for s in days(3)]
    assert "rises at 5 m/s" in words(persistence_sections(persistence(untimed, PRIOR))[0])


def test_without_a_fit_nothing_is_judged() -> None:
    sections = persistence_sections(persistence([ascent()], PRIOR))
    assert "nothing is judged" in words(sections[0])
    assert not [section for section in sections if isinstance(section, Grid)]
