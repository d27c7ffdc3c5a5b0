"""Broken plans: each mistake names its field and value, says why, and shows how to mend it."""

import pytest

from pappus.errors import BadPlan
from pappus.plan import example_plan_text, load_plan

# (change in the example, field, reason, fix)
CASES = {
    "unknown key": ('wanted_height = "31 km"', 'wanted_hight = "31 km"', "mission.wanted_hight", "unknown key",
                    'Did you mean "wanted_height"? For example wanted_height = "31 km"'),
    "unknown key, nothing near": ("seed = 1", "seed = 1\nzzz = 1", "ensemble.zzz", "unknown key",
                                  "Keys that are known here: flights, seed"),
    "unknown table": ("[balloon]", "[baloon]", "baloon", "unknown key",
                      'Did you mean "balloon"? For example [balloon] with mass = "1200 g"'),
    "key missing": ('time_zone = "America/Argentina/Salta"', "", "mission.time_zone", "missing",
                    'time_zone = "America/Argentina/Salta"'),
    "key missing in the second block": ('mass = "560 g"', "", "package[2].mass", "missing", 'mass = "560 g"'),
    "table missing": ('[gas]\nkind = "helium"', "", "gas.kind", "missing", 'kind = "helium"'),
    "no unit": ('mass = "1200 g"', 'mass = "1200"', "balloon.mass", "no unit", 'mass = "1200 g"'),
    "number without quotes": ('mass = "1200 g"', "mass = 1200", "balloon.mass", "text in quotes", 'mass = "1200 g"'),
    "wrong dimension": ('climb = "5 m/s"', 'climb = "5 kg"', "fill.climb",
                        "kilogram is a mass, a speed is needed", 'climb = "5 m/s"'),
    "mass for a lift": ('climb = "5 m/s"', 'scale_lift = "2150 g"', "fill.scale_lift", "lift is a force",
                        'Write "2150 gf"'),
    "decimal comma": ('area = "1.5 m2"', 'area = "1,5 m2"', "canopy.area", "a comma", 'area = "1.5 m²"'),
    "not finite": ('area = "1.5 m2"', 'area = "nan m2"', "canopy.area", "not finite", 'area = "1.5 m²"'),
    "number not finite": ("drag_coefficient = 0.8", "drag_coefficient = nan", "canopy.drag_coefficient", "finite",
                          "drag_coefficient = 0.8"),
    "text for a number": ("drag_coefficient = 0.8", 'drag_coefficient = "0.8"', "canopy.drag_coefficient",
                          "valid number", "drag_coefficient = 0.8"),
    "truth for a number": ("drag_coefficient = 0.8", "drag_coefficient = true", "canopy.drag_coefficient",
                           "valid number", "drag_coefficient = 0.8"),
    "drag coefficient out of range": ("drag_coefficient = 0.8", "drag_coefficient = 8", "canopy.drag_coefficient",
                                      "less than or equal to 2.5", "drag_coefficient = 0.8"),
    "quantity out of range": ('mass = "1200 g"', 'mass = "12 kg"', "balloon.mass", "outside 10 g to 6 kg",
                              'mass = "1200 g"'),
    "latitude off the globe": ("latitude_deg = -37.38", "latitude_deg = -137.38", "site[1].latitude_deg",
                               "greater than or equal to -90", "latitude_deg = -37.38"),
    "unknown gas": ('kind = "helium"', 'kind = "neon"', "gas.kind", "'helium' or 'hydrogen'", 'kind = "helium"'),
    "unknown time zone": ("America/Argentina/Salta", "America/Argentina/Salto", "mission.time_zone",
                          "not a time zone", 'Did you mean "America/Argentina/Salta"?'),
    "path for a time zone": ("America/Argentina/Salta", "../../etc/passwd", "mission.time_zone", "not a time zone",
                             'time_zone = "America/Argentina/Salta"'),
    "directory for a time zone": ('"America/Argentina/Salta"', '"America"', "mission.time_zone", "not a time zone",
                                  'Did you mean "America/'),
    "naive time": ("opens = 2027-02-13T11:00:00Z", "opens = 2027-02-13T11:00:00", "window.opens",
                   "without an offset from UTC", "opens = 2027-02-13T11:00:00Z"),
    "date for a time": ("opens = 2027-02-13T11:00:00Z", "opens = 2027-02-13", "window.opens", "date and time",
                        "opens = 2027-02-13T11:00:00Z"),
    "time in quotes": ("opens = 2027-02-13T11:00:00Z", 'opens = "2027-02-13T11:00:00Z"', "window.opens",
                       "without quotes", "opens = 2027-02-13T11:00:00Z"),
    "closes before it opens": ("closes = 2027-02-13T16:00:00Z", "closes = 2026-02-13T16:00:00Z", "window.closes",
                               "not after the window opens", "closes = 2027-02-13T16:00:00Z"),
    "permission that ends too early": ("until = 2027-03-01T00:00:00Z", "until = 2027-02-13T15:00:00Z",
                                       "permission[1].until", "before the window closes", "Ask for a longer one"),
    "vehicle at half a place": ("# latitude_deg = -37.40", "latitude_deg = -37.40", "vehicle[1].longitude_deg",
                                "a place needs both", "Give both or none"),
    "launches without end": ('step = "30 min"', 'step = "0.5 min"', "window.step", "outside 5 min", 'step = "1 h"'),
    "two fills of one name": ('name = "fast"', 'name = "slow"', "fill_option[2].name", "have this name",
                              'name = "slow 2"'),
    "another fill with two ways": ('climb = "6 m/s"', 'climb = "6 m/s"\nvolume = "3 m3"', "fill_option[2]",
                                   "volume and climb given; exactly one", 'for example climb = "5 m/s"'),
    "chance above all": ('# keep_out = "1 %"', 'keep_out = "101 %"', "go.keep_out", "outside 0 % to 100 %",
                         'keep_out = "1 %"'),
    "flag as text": ("radar_reflector = true", 'radar_reflector = "yes"', "equipment.radar_reflector", "boolean",
                     "radar_reflector = true"),
    "release outside the window": ("release = 2027-02-13T12:30:00Z", "release = 2027-02-13T17:30:00Z",
                                   "window.release", "outside the window", "release = 2027-02-13T12:30:00Z"),
    "year that overflows": ("opens = 2027-02-13T11:00:00Z", "opens = 0001-01-01T00:00:00+14:00", "window.opens",
                            "outside the years", "opens = 2027-02-13T11:00:00Z"),
    "two ways to fill": ('climb = "5 m/s"', 'climb = "5 m/s"\nfree_lift = "900 gf"', "fill",
                         "free_lift and climb given; exactly one", 'for example climb = "5 m/s"'),
    "no way to fill": ('climb = "5 m/s"', "", "fill", "none given; exactly one", 'for example climb = "5 m/s"'),
    "height without chance": ('climb = "5 m/s"', 'height = "30 km"', "fill.chance", "needs the chance",
                              'chance = "80 %"'),
    "chance without height": ('climb = "5 m/s"', 'climb = "5 m/s"\nchance = "80 %"', "fill.chance",
                              "belongs to height alone", 'height = "30 km"'),
    "lift below the train": ('climb = "5 m/s"', 'scale_lift = "900 gf"', "fill.scale_lift",
                             "does not lift the train, which weighs 1066 gf", 'scale_lift = "1599 gf"'),
    "radius for diameter": ('burst_diameter = "8.6 m"', 'burst_diameter = "86 cm"', "balloon.burst_diameter",
                            "is the unit right?", 'burst_diameter = "8.3 m"'),
    "hardly stretched": ('burst_diameter = "8.6 m"', 'burst_diameter = "8.6 m"\nunstretched_diameter = "7.5 m"',
                         "balloon.unstretched_diameter", "is not 1.2 times", 'unstretched_diameter = "1.56 m"'),
    "residual above pressure": ('residual = "3 bar"', 'residual = "230 bar"', "gas.cylinder.residual",
                                "not below the pressure", 'residual = "3 bar"'),
    "train too heavy": ('edges = ["12 cm", "12 cm", "10 cm"]',
                        'edges = ["12 cm", "12 cm", "10 cm"]\n'
                        + '\n'.join(f'[[package]]\nname = "p{n}"\nmass = "29 kg"\nedges = ["1 m", "1 m", "1 m"]'
                                    for n in range(3)),
                        "package", "20 g to 60 kg can be planned", 'mass = "560 g"'),
    "wanted height below the site": ('wanted_height = "31 km"', 'wanted_height = "1300 m"', "mission.wanted_height",
                                     "less than 1 km above the highest site, 312 m", 'wanted_height = "31 km"'),
    "two edges": ('edges = ["12 cm", "12 cm", "10 cm"]', 'edges = ["12 cm", "12 cm"]', "package[1].edges",
                  "at least 3 items", 'edges = ["20 cm", "18 cm", "15 cm"]'),
    "bad edge": ('edges = ["12 cm", "12 cm", "10 cm"]', 'edges = ["12 cm", "12 cm", "10 m"]', "package[1].edges[3]",
                 "outside 1 cm to 5 m", 'edges = ["20 cm", "18 cm", "15 cm"]'),
    "same site twice": ('name = "B"', 'name = "A"', "site[2].name", "have this name", 'name = "A 2"'),
    "same line twice": ('name = "canopy to tracking"', 'name = "neck to canopy"', "line[2].name", "have this name",
                        'name = "neck to canopy 2"'),
    "same package twice": ('name = "camera and kettle"', 'name = "tracking"', "package[2].name", "have this name",
                           'name = "tracking 2"'),
    "trigger without its key": ('after = "130 min"', "", "cut_down[1].after", "trigger time needs it",
                                'after = "130 min"'),
    "key of another trigger": ('after = "130 min"', 'after = "130 min"\nheight = "33 km"', "cut_down[1].height",
                               "belongs to trigger height; trigger time takes after", 'trigger = "height"'),
    "no device": ('devices = 1\ntrigger = "time"', 'devices = 0\ntrigger = "time"', "cut_down[1].devices",
                  "greater than or equal to 1", "devices = 1"),
    "area of two corners": ("    [-39.2, -61.4],\n    [-34.8, -61.4],\n", "", "cut_down[2].keep_inside",
                            "at least 3 items", "keep_inside = [["),
    "corner with three numbers": ("[-39.2, -61.4]", "[-39.2, -61.4, 0.0]", "cut_down[2].keep_inside[2]",
                                  "at most 2 items", "keep_inside = [["),
    "latitude and longitude swapped": ("[-39.2, -61.4]", "[-161.4, -39.2]", "cut_down[2].keep_inside[2]",
                                       "not a [latitude, longitude]", "keep_inside = [["),
    "area that crosses itself": ("[-34.8, -61.4],\n    [-34.8, -67.4]", "[-34.8, -67.4],\n    [-34.8, -61.4]",
                                 "cut_down[2].keep_inside", "its edges cross", "keep_inside = [["),
    "site outside the area": ("longitude_deg = -65.44", "longitude_deg = -68.44", "cut_down[2].keep_inside",
                              "site B is outside", "keep_inside = [["),
    "half a flight": ("flights = 1000", "flights = 100.5", "ensemble.flights", "valid integer", "flights = 1000"),
    "too few flights": ("flights = 1000", "flights = 5", "ensemble.flights", "greater than or equal to 50",
                        "flights = 1000"),
    "seed beyond 64 bits": ("seed = 1", f"seed = {10**40}", "ensemble.seed", "must", "seed = 1"),
    "empty name": ('name = "Where the steam goes"', 'name = "  "', "mission.name", "empty", 'name = "Night kettle"'),
    "name too long": ('name = "A"', 'name = "a very long short name"', "site[1].name", "longer than 12 characters",
                      'name = "A"'),
    "escape code in a name": ('name = "A"', 'name = "\\u001b[31mA"', "site[1].name", "cannot be printed",
                              'name = "A"'),
    "value for a table": ("[limits]", "[limits_]\n", "limits_", "unknown key", 'Did you mean "limits"?'),
}  # fmt: skip


def findings_of(text, tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadPlan) as caught:
        load_plan(path)
    return caught.value.findings


@pytest.mark.parametrize("name", CASES)
def test_a_broken_plan(name, tmp_path):
    old, new, field, reason, fix = CASES[name]
    assert example_plan_text().count(old) == 1
    findings = findings_of(example_plan_text().replace(old, new), tmp_path)
    found = [finding for finding in findings if finding.field == field]
    assert len(found) == 1, findings
    assert reason in found[0].reason
    assert fix in found[0].fix


def test_the_value_is_shown_as_given(tmp_path):
    text = example_plan_text().replace('mass = "1200 g"', 'mass = "1200 stones"')
    (finding,) = findings_of(text, tmp_path)
    assert finding.value == "1200 stones"
    assert str(finding).startswith("balloon.mass = 1200 stones: ")


def test_a_feet_diameter_passes_and_an_inch_diameter_does_not(tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text(example_plan_text().replace('"8.6 m"', '"28.2 ft"'), encoding="utf-8")
    assert load_plan(path).flight_train.envelope.burst_diameter_m == pytest.approx(28.2 * 0.3048)
    (finding,) = findings_of(example_plan_text().replace('"8.6 m"', '"28.2 in"'), tmp_path)
    assert (finding.field, finding.value) == ("balloon.burst_diameter", "28.2 in")


@pytest.mark.parametrize(
    ("text", "field", "reason", "fix"),
    [
        ('site = "A"', "site", "must be a block [[site]], with two brackets", '[[site]] with name = "A"'),
        ('[site]\nname = "A"', "site", "must be a block [[site]]", '[[site]] with name = "A"'),
        ("site = []", "site", "must be 1 to 20 blocks, not 0", '[[site]] with name = "A"'),
        ("[[site]]\n" * 21, "site", "must be 1 to 20 blocks, not 21", '[[site]] with name = "A"'),
        ("gas = 3", "gas", "must be one table [gas]", '[gas] with kind = "helium"'),
        ('[[gas]]\nkind = "helium"', "gas", "must be one table [gas]", '[gas] with kind = "helium"'),
        ('[gas]\nkind = "helium"\ncylinder = 3', "gas.cylinder", "must be one table [gas.cylinder]",
         '[gas.cylinder] with volume = "50 L"'),
        ('[gas]\nkind = "helium"', "window", "missing", "Add [window] with opens = 2027-02-13T11:00:00Z"),
        ('[gas]\nkind = {a = 1}', "gas.kind", "must be", 'kind = "helium"'),
        ('"\\u001b[2J" = 1', "'\\x1b[2J'", "unknown key", "Keys that are known here: mission, site"),
    ],
)  # fmt: skip
def test_tables_of_the_wrong_shape(text, field, reason, fix, tmp_path):
    found = [finding for finding in findings_of(text, tmp_path) if finding.field == field]
    assert len(found) == 1
    assert reason in found[0].reason
    assert fix in found[0].fix


def test_all_mistakes_are_told_at_once_in_the_order_of_the_file(tmp_path):
    text = example_plan_text()
    for old, new in [
        ('wanted_height = "31 km"', 'wanted_height = "31"'),
        ('name = "B"', 'name = "A"'),
        ('kind = "helium"', 'kind = "helum"'),
        ("closes = 2027-02-13T16:00:00Z", "closes = 2027-02-13T10:00:00Z"),
        ('after = "130 min"', 'after = "130 m"\nheight = "33 km"'),
        ("seed = 1", "sed = 1"),
        ('climb = "5 m/s"', 'climb = "5"\nvolume = "3"'),
    ]:
        text = text.replace(old, new)
    assert [finding.field for finding in findings_of(text, tmp_path)] == [
        "mission.wanted_height",
        "site[2].name",
        "gas.kind",
        "fill",
        "fill.climb",
        "fill.volume",
        "cut_down[1].after",
        "cut_down[1].height",
        "window.closes",
        "ensemble.sed",
    ]


def test_every_finding_of_an_empty_block_has_an_example(tmp_path):
    names = ("mission", "balloon", "gas", "gas.cylinder", "fill", "canopy", "window")
    blocks = ("site", "package", "line", "cut_down")
    text = "\n".join([f"[{name}]" for name in names] + [f"[[{name}]]" for name in blocks])
    findings = findings_of(text, tmp_path)
    assert len(findings) > 25
    for finding in findings:
        assert " = " in finding.fix, finding
        assert not finding.value
