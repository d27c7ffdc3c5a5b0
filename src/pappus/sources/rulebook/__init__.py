"""Rule profiles of countries, one TOML file each, and the reader for those of the crew."""

from pappus.sources.rulebook._read import read_rule_profile, rule_profile_names

__all__ = ["read_rule_profile", "rule_profile_names"]
