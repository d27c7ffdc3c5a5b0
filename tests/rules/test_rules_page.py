"""docs/rules.md names every paragraph and every profile as the program has them; its example is a file that is read."""

from __future__ import annotations

import re
from pathlib import Path
from typing import get_args

from pappus.rules import FlagFact, MeasuredFact, RuleFacts, check_rules
from pappus.sources import read_rule_profile, rule_profile_names
from rules.rule_cases import ICAO, NOW, US

PAGE = (Path(__file__).parents[2] / "docs" / "rules.md").read_text("utf-8")


def rows() -> dict[str, list[str]]:
    lines = (line.strip("| ").split(" | ") for line in PAGE.splitlines() if line.startswith("| `"))
    return {cells[0].strip("`"): cells for cells in lines}


def test_every_paragraph_stands_on_the_page_as_the_verdict_says_it() -> None:
    found = rows()
    for profile in (US, ICAO):
        for entry in check_rules(profile, RuleFacts(), NOW)[1:]:
            _, paragraph, title, limit, _, certainty = found[entry.rule_id]
            assert (paragraph, title, limit, certainty) == (
                entry.paragraph,
                entry.title,
                entry.limit_text,
                entry.certainty,
            )
        assert f"`{check_rules(profile, RuleFacts(), NOW)[0].rule_id}`" in PAGE


def test_every_profile_stands_on_the_page() -> None:
    found = rows()
    assert set(rule_profile_names()) <= set(found)
    for name in rule_profile_names():
        profile = read_rule_profile(name)
        _, base, ahead, source = found[name]
        assert (base, source) == (profile.base, profile.lead_source or "-")
        days = {None: "not known", 0: "no permit"}.get(profile.lead_time_days, f"{profile.lead_time_days} ")
        assert ahead.startswith(days)


def test_the_example_is_read_and_the_facts_are_named(tmp_path: Path) -> None:
    (example,) = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)
    path = tmp_path / "invented.toml"
    path.write_text(example, "utf-8")
    profile = read_rule_profile(path)
    assert profile.lead_time_days == 10
    assert profile.requirements[0].over == 2.0
    for name in (*get_args(MeasuredFact), *get_args(FlagFact)):
        assert f"`{name}`" in PAGE
