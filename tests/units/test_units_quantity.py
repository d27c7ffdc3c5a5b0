"""Reading quantities. Factors come from scipy.constants (CODATA and NIST SP 811), not from the parser's own library."""

import math
import subprocess
import sys

import pytest
import scipy.constants as c
from hypothesis import given
from hypothesis import strategies as st

from pappus.units import UnitError, parse_quantity
from pappus.units._quantity import _COMMON, _KINDS, _registry, _unit

FACTORS = [
    ("mass", "g", c.gram),
    ("mass", "kg", 1.0),
    ("mass", "lb", c.pound),
    ("mass", "oz", c.ounce),
    ("length", "cm", c.centi),
    ("length", "ft", c.foot),
    ("length", "in", c.inch),
    ("length", "km", c.kilo),
    ("length", "mi", c.mile),
    ("length", "nmi", c.nautical_mile),
    ("speed", "m/s", 1.0),
    ("speed", "m s-1", 1.0),
    ("speed", "kt", c.knot),
    ("speed", "km/h", c.kmh),
    ("speed", "ft/min", c.foot / c.minute),
    ("force", "gf", c.kgf * c.milli),
    ("force", "kgf", c.kgf),
    ("force", "lbf", c.lbf),
    ("force", "N", 1.0),
    ("pressure", "hPa", 100.0),
    ("pressure", "bar", c.bar),
    ("pressure", "psi", c.psi),
    ("pressure", "atm", c.atm),
    ("area", "m²", 1.0),
    ("area", "m2", 1.0),
    ("area", "m^2", 1.0),
    ("area", "ft2", c.foot**2),
    ("volume", "L", c.liter),
    ("volume", "m³", 1.0),
    ("volume", "ft^3", c.foot**3),
    ("time", "min", c.minute),
    ("time", "h", c.hour),
    ("fraction", "%", 0.01),
    ("density", "kg/m³", 1.0),
    ("density", "g/L", 1.0),
]
DIMENSIONS = sorted({row[0] for row in FACTORS} | {"temperature"})


@pytest.mark.parametrize(("dimension", "unit", "factor"), FACTORS)
@given(number=st.floats(min_value=-1e6, max_value=1e6))
def test_a_number_comes_back_from_its_text(dimension, unit, factor, number):
    for text in (f"{number!r} {unit}", f"  {number!r}{unit} "):
        assert parse_quantity(text, dimension) / factor == pytest.approx(number, rel=1e-12, abs=1e-300)


@given(celsius=st.floats(min_value=-273.15, max_value=1000.0))
def test_temperatures_are_absolute(celsius):
    for unit in ("°C", "degC"):
        assert parse_quantity(f"{celsius!r} {unit}", "temperature") == pytest.approx(celsius + c.zero_Celsius, abs=1e-9)
    fahrenheit = celsius * 1.8 + 32.0
    expected = c.convert_temperature(fahrenheit, "F", "K")
    assert parse_quantity(f"{fahrenheit!r} °F", "temperature") == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "si"),
    [("+5 m/s", 5.0), ("-5 m/s", -5.0), ("\N{MINUS SIGN}5 m/s", -5.0), (".5 m/s", 0.5), ("1e1 m/s", 10.0),
     ("5\N{NO-BREAK SPACE}m/s", 5.0), ("5 m / s", 5.0), ("5 m·s^-1", 5.0), ("5 m s⁻¹", 5.0)],
)  # fmt: skip
def test_ways_to_write_a_speed(text, si):
    assert parse_quantity(text, "speed") == pytest.approx(si)


@pytest.mark.parametrize(
    ("text", "dimension", "reason", "fix"),
    [
        ("5", "speed", "no unit", '"5 m/s"'),
        ("5 kg", "speed", "kilogram is a mass, a speed is needed", '"5 m/s"'),
        ("2150 g", "force", "lift is a force", '"2150 gf"'),
        ("2.1 kg", "force", "lift is a force", '"2.1 kgf"'),
        ("4,5 m/s", "speed", "a comma in a number can mean two things", "decimal point"),
        ("33,000 ft", "length", "a comma in a number can mean two things", "decimal point"),
        ("33 000 ft", "length", "a space between the digits", '"12 m"'),
        ("five m/s", "speed", "not a number", '"5 m/s"'),
        ("", "mass", "not a number", '"1200 g"'),
        ("nan m", "length", "not finite", '"12 m"'),
        ("-Infinity m", "length", "not finite", '"12 m"'),
        ("1e999 m", "length", "not finite", '"12 m"'),
        ("1e308 km", "length", "not finite", '"12 m"'),
        ("-300 °C", "temperature", "below absolute zero", '"15 °C"'),
        ("15 C", "temperature", "coulomb", '"15 °C"'),
        ("100 nm", "length", "nanometre", '"100 nmi"'),
        ("5 mb", "pressure", "hPa", '"5 hPa"'),
        ("6 rad", "fraction", "radian is not a fraction", '"6 %"'),
        ("5 m/s2", "speed", "meter / second ** 2 is not a speed", '"5 m/s"'),
        ("5 flurbs", "mass", "is not a unit that is known here", '"1200 g"'),
        ("5 m**3**3**3", "length", "is not a unit", '"12 m"'),
        ("5 m*9**9**9**9", "length", "is not a unit", '"12 m"'),
        ("__import__('os').getcwd() m", "length", "not a number", '"12 m"'),
        ("2+2 m", "length", "is not a unit", '"12 m"'),
        ("5 " + "m" * 60, "length", "longer than 40 characters", '"12 m"'),
    ],
)
def test_what_cannot_be_read_says_why_and_shows_how(text, dimension, reason, fix):
    with pytest.raises(UnitError) as caught:
        parse_quantity(text, dimension)
    assert reason in caught.value.reason
    assert fix in caught.value.fix
    assert not caught.value.reason.endswith(".")


@given(text=st.text(max_size=30) | st.from_regex(r"[0-9]{1,3} ?[a-zA-Z%°*/^0-9 -]{0,12}", fullmatch=True))
def test_any_text_gives_a_finite_number_or_a_unit_error(text):
    for dimension in DIMENSIONS:
        try:
            value = parse_quantity(text, dimension)
        except UnitError:
            continue
        assert math.isfinite(value)


def test_the_example_of_every_dimension_can_be_read():
    for dimension in DIMENSIONS:
        with pytest.raises(UnitError) as caught:
            parse_quantity("5", dimension)
        example = caught.value.fix.split('"')[1]
        assert math.isfinite(parse_quantity(example, dimension))


def test_the_library_of_units_is_loaded_only_when_a_unit_is_read():
    code = "import sys, pappus.units; print('pint' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "False\n"


@pytest.mark.parametrize(("dimension", "unit"), sorted(_COMMON))
def test_common_units_are_those_of_the_registry(dimension: str, unit: str) -> None:
    """The short way against pint, which knows them from the SI brochure and the yard and pound agreement."""
    unit_of = _unit(unit, "")
    expected = float(_registry().Quantity(12.5, unit_of).to(_KINDS[dimension].si).magnitude)
    assert parse_quantity(f"12.5 {unit}", dimension) == pytest.approx(expected, rel=1e-15)
