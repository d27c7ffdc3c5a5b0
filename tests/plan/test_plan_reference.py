"""Every key of the plan file is explained, and the written reference is the one that the keys give."""

import re
from pathlib import Path

import pytest

from pappus.plan import example_plan_text, plan_reference
from pappus.plan._keys import PlanKeys
from pappus.plan._reading import section_of, toml_text
from pappus.units import UnitError, parse_quantity

DOCUMENT = Path(__file__).parents[2] / "docs" / "plan.md"


def keys(model=PlanKeys, prefix=""):
    for name, info in model.model_fields.items():
        inner, _ = section_of(info.annotation)
        if inner is None:
            yield prefix, name, info
        else:
            yield from keys(inner, f"{prefix}{name}.")


def test_the_document_is_the_reference():
    assert DOCUMENT.read_text("utf-8") == plan_reference(), "write docs/plan.md anew from plan_reference()"


def test_every_key_stands_in_the_reference_and_in_the_example():
    for prefix, name, info in keys():
        table = re.search(rf"(?ms)^## `\[+{re.escape(prefix[:-1])}\]+`.*?(?=^## |\Z)", plan_reference())[0]
        assert f"| `{name}` | {info.description} |" in table
        assert re.search(rf"(?m)^(?:# )?{name} = ", example_plan_text()), f"{prefix}{name} is not in the example plan"


def test_every_key_says_what_it_is_and_what_happens_without_it():
    for prefix, name, info in keys():
        assert info.description.endswith("."), f"{prefix}{name}"
        assert len(info.examples) == 1
        otherwise = info.json_schema_extra["otherwise"]
        assert bool(otherwise) == (info.default is None), f"{prefix}{name}"


@pytest.mark.parametrize(("prefix", "name", "info"), list(keys()))
def test_the_example_and_the_default_of_a_key_are_taken_by_it(prefix, name, info):
    model = PlanKeys
    for step in prefix.split(".")[:-1]:
        model, _ = section_of(model.model_fields[step].annotation)
    for value in (info.examples[0], info.default):
        if value is None or (info.is_required() and value is info.default):
            continue
        section = model.model_construct()
        setattr(section, name, value)
        assert getattr(section, name) is not None, toml_text(value)


def test_values_in_the_prose_of_the_example_can_be_read():
    quoted = set(re.findall(r'"([0-9][^"\n]*)"', example_plan_text()))
    assert len(quoted) > 30
    dimensions = ("mass", "length", "speed", "force", "pressure", "temperature", "area", "volume", "time", "fraction")
    for text in quoted:
        readings = 0
        for dimension in dimensions:
            try:
                parse_quantity(text, dimension)
            except UnitError:
                continue
            readings += 1
        assert readings == 1, text
