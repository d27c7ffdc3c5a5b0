"""Files that are no plan at all are refused with a reason, never with a traceback."""

import copy
import os
import tomllib

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pappus.errors import BadPlan
from pappus.plan import Plan, example_plan_text, load_plan

EXAMPLE = example_plan_text()
TABLES = tomllib.loads(EXAMPLE)


def outcome(path):
    """Findings of the file; none when it is a plan. Any other exception goes through and fails the test."""
    try:
        plan = load_plan(path)
    except BadPlan as bad:
        return bad.findings or ["a refusal without findings"]
    assert isinstance(plan, Plan)
    return ()


def only_finding(path):
    with pytest.raises(BadPlan) as caught:
        load_plan(path)
    (finding,) = caught.value.findings
    assert finding.fix
    return finding


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"", "empty"),
        (b"# only a comment\n", "empty"),
        (b"\x89PNG\r\n\x1a\n\0\0", "binary"),
        (EXAMPLE.encode("utf-16"), "binary or UTF-16"),
        ('[mission]\nname = "Nuñoa"\n'.encode("latin-1"), "line 2 is not UTF-8"),
        (b"#\n" * 500_001, "larger than 1 MB"),
        (b".".join([b"a"] * 400_000) + b" = 1", "a line of 800003 characters"),
        (b"[mission\n", "not valid TOML"),
        (b"a = " + b"[" * 19_000, "nested too deeply"),
        (b"a = " + b"1" * 10_000, "not valid TOML"),
        (b'[mission]\nname = "a"\nname = "b"\n', "not valid TOML"),
        (b"[window]\nopens = 2027-02-30T11:00:00Z\n", "not valid TOML"),
    ],
)
def test_a_file_that_is_no_plan(data, reason, tmp_path):
    path = tmp_path / "plan.toml"
    path.write_bytes(data)
    finding = only_finding(path)
    assert finding.field == "plan.toml"
    assert reason in finding.reason


def test_a_syntax_error_names_line_and_column_and_shows_the_line(tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text('[mission]\nname = "a"\nclient = nobody\n', encoding="utf-8")
    finding = only_finding(path)
    assert "line 3, column 10" in finding.reason
    assert finding.value == "client = nobody"
    assert 'mass = "1200 g"' in finding.fix


def test_places_that_hold_no_file(tmp_path):
    assert "no such file" in only_finding(tmp_path / "absent.toml").reason
    assert "a folder" in only_finding(tmp_path).reason
    assert "cannot be read" in only_finding(tmp_path / ("x" * 5000)).reason
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    assert "not a regular file" in only_finding(pipe).reason


def test_a_path_may_be_text(tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text(EXAMPLE, encoding="utf-8")
    assert load_plan(str(path)) == load_plan(path)


def test_a_deeply_dotted_key_is_an_unknown_key(tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text(".".join("a" * 5000) + " = 1\n", encoding="utf-8")
    with pytest.raises(BadPlan) as caught:
        load_plan(path)
    assert ("a", "", "unknown key") in {(f.field, f.value, f.reason) for f in caught.value.findings}


def test_a_file_of_other_keys_is_told_in_short(tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text("".join(f"key_{number} = 1\n" for number in range(50_000)), encoding="utf-8")
    with pytest.raises(BadPlan) as caught:
        load_plan(path)
    assert len(caught.value.findings) < 40
    assert any("one of 49980 more" in finding.reason for finding in caught.value.findings)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_a_damaged_plan_is_a_plan_or_a_bad_plan(data, tmp_path):
    start = data.draw(st.integers(0, len(EXAMPLE) - 1))
    length = data.draw(st.integers(0, 40))
    junk = data.draw(st.text(max_size=8) | st.sampled_from(["0", "-", '"', "[", "]]", "1e400", "true", "1979-05-27"]))
    path = tmp_path / "plan.toml"
    path.write_text(EXAMPLE[:start] + junk + EXAMPLE[start + length :], encoding="utf-8", newline="")
    assert all(finding.reason and finding.fix for finding in outcome(path))


values = st.recursive(
    st.none().map(lambda _: "x") | st.booleans() | st.integers() | st.floats() | st.text(max_size=6),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner, max_size=3),
    max_leaves=6,
)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data(), value=values)
def test_any_value_at_any_key_is_taken_or_refused(data, value, tmp_path, monkeypatch):
    tables = copy.deepcopy(TABLES)
    table = tables
    while True:
        name = data.draw(st.sampled_from(sorted(table)))
        below = table[name][0] if isinstance(table[name], list) else table[name]
        if not isinstance(below, dict) or not below or data.draw(st.booleans()):
            break
        table = below
    table[name] = value
    path = tmp_path / "plan.toml"
    path.write_text(EXAMPLE, encoding="utf-8")
    monkeypatch.setattr(tomllib, "loads", lambda _: tables)
    assert all(finding.reason and finding.fix for finding in outcome(path))
