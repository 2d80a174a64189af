"""Holds case files against the JSON Schema of the case file with an outside validator (PyPI `jsonschema`), TOML read by Python's
own tomllib, and wants the program's `check` to agree.

    schema_check.py SCHEMA.json RINGWRIGHT CASE.toml...

The case files must pass both. Files spoilt at one place, made from the first of them, must fail both; files changed to
something else that is right must pass both. Prints what failed and `N passed, M failed`; exit 1 if any failed.

Truth: other program; an outside validator
"""

import json
import pathlib
import subprocess
import sys
import tomllib

import jsonschema

# text of the first case file, what stands in its place, whether that is right
CHANGES = [
    ("force = 2000.0", 'force = "2 kN"', True),
    ("force = 2000.0", 'force = "450lbf"', True),
    ("width = 22.0", 'width = " 0.9 in "', True),
    ("count = 3", "count = 6", True),
    ('units = "mm"', 'units = "inch"', True),
    ("width = 22.0", "arc = 20", True),
    ("width = 22.0", "width = '7/8 in'", True),
    ("outer_diameter = 110.0", "outer_diameter = '4 3/8\"'", True),
    ("force = 2000.0", "force = '450 lbs'", True),
    ("width = 22.0", "", False),
    ("count = 3", "", False),
    ("force = 2000.0", "", False),
    ("[[step]]", "[part.readings]\nouter = { readings = '0:1 60:-1 120:1 180:-1 240:1 300:-1', unit = 'um', reads = 'deviation' }\nbore = 'round'\n[[step]]", True),
    ('material = "bronze C93200"', "material = { young_modulus = '105 GPa', poisson_ratio = 0.34 }", True),
    ('hold = "bare"', 'hold = "bare"\nspindle_offset = { distance = 0.1 }', True),
    ("width = 22.0", "width = 22.0\ngrip_from = 0\ngrip_length = '1/2 in'", True),
    ("width = 22.0", "width = 22.0\ngrip_from = -1", False),
    ("width = 22.0", "width = 22.0\ngrip_length = 0", False),
    ("[[step]]", "[tube]\nstations = [0, 10.0, '15 mm']\n[[step]]", True),
    ("[[step]]", "[tube]\noutline = [[0, 130, 92], [5, 130, 92], ['5 mm', 110, 92], [30, 110, 92.5]]\n[[step]]", True),
    ("[[step]]", "[tube]\nstations = 3\n[[step]]", False),
    ("[[step]]", "[tube]\nstations = [-1]\n[[step]]", False),
    ("[[step]]", "[tube]\noutline = [[0, 110, 92]]\n[[step]]", False),
    ("[[step]]", "[tube]\noutline = [[0, 110], [30, 110]]\n[[step]]", False),
    ("[[step]]", "[tube]\noutline = [[0, 110, 92], [30, 0, 92]]\n[[step]]", False),
    ("[[step]]", "[tube]\nlength = 30\n[[step]]", False),
    ("[[step]]", "[tube]\n[[step]]", True),
    ("[[step.cut]]", "[[step.cut]]\nfrom = 'x'", False),
    ("[[step.cut]]", "[[step.cut]]\nto = 0", False),
    ("[[step.cut]]", "[[step.cut]]\nend_diameter = -3", False),
    ("[[step]]", "[inspection]\ncircle = 'least-squares'\ngauge = { kind = 'vee', included_angle = 60 }\nmeasuring_force = 2\n[[step]]", True),
    ("[[step]]", "[inspection]\nsupport = 'vee'\nvee_angle = 108\ntemperature = 21.5\nfilter_upr = 50\n[[step]]", True),
    ("length = 30.0", "length = 30.0\nresidual_hoop_stress = { slit = { gap = '12 thou', saw_width = 0 } }", True),
    ("length = 30.0", "length = 30.0\nresidual_hoop_stress = { slit = { diameter_before = 110, diameter_after = 110.1 } }", True),
    ("[[step]]", "[tolerance.bore]\ndiameter = [94.0, '94.04 mm']\ncircle = 'maximum-inscribed'\n[[step]]", True),
    ("[[step]]", "[part.readings]\nouter = { readings = '0:1 60:-1 120:1 180:-1 240:1 300:-1', unit = 'um', reads = 'deviation' }\n[[step]]", True),
    ("[[step]]", "[part.readings]\nbore = { readings = [1, -1, 1.5, -1, 1, -1], unit = 'um', reads = 'deviation', lobes = 2, zero_at = '1 rad' }\n[[step]]", True),
    ("[[step]]", "[part.readings]\nouter = 3\n[[step]]", False),
    ("[[step]]", "[part.readings]\nouter = { unit = 'um' }\n[[step]]", False),
    ("[[step]]", "[part.readings]\nouter = { readings = [1, 'x', 2] }\n[[step]]", False),
    ("[[step]]", "[part.readings]\nouter = { readings = '0:1 120:2 240:1', unit = 'mil' }\n[[step]]", False),
    ("[[step]]", "[part.readings]\none_setting = 'yes'\n[[step]]", False),
    ("[[step]]", "[inspection]\nmeasuring_force = 2\n[[step]]", False),
    ("[[step]]", "[inspection]\nvee_angle = 90\n[[step]]", False),
    ("[[step]]", "[inspection]\ngauge = { kind = 'vee', included_angle = 180 }\n[[step]]", False),
    ("[[step]]", "[inspection]\nfilter_upr = 1\n[[step]]", False),
    ("[[step]]", "[tolerance.bore]\ndiameter = [94.0]\n[[step]]", False),
    ("length = 30.0", "length = 30.0\nresidual_hoop_stress = { slit = { diameter_before = 110 } }", False),
    ("length = 30.0", "length = 30.0\nresidual_hoop_stress = { outer = 1, bore = 1, slit = { gap = 1 } }", False),
    ("length = 30.0", "length = 30.0\nresidual_hoop_stress = { outer = 1 }", False),
    ("force = 2000.0", "force = -1", False),
    ("force = 2000.0", 'force = "-1 N"', False),
    ("force = 2000.0", 'force = "2 mm"', False),
    ("force = 2000.0", 'force = "much"', False),
    ("force = 2000.0", "force = true", False),
    ("width = 22.0", "width = 0", False),
    ("width = 22.0", "arc = 181", False),
    ("width = 22.0", "widht = 22.0", False),
    ("width = 22.0", "width = { low = 1, high = 2 }", False),
    ("count = 3", "count = 0", False),
    ("count = 3", "count = 1001", False),
    ("count = 3", "count = 2.5", False),
    ('scheme = "jaws"', 'scheme = "claws"', False),
    ('scheme = "jaws"', "", False),
    ('drive = "self-centring"', 'drive = "by-hand"', False),
    ("[[hold.bare]]", "[[hold.free]]", False),
    ("[[hold.bare]]", "[hold.bare]", False),
    ('units = "mm"', 'units = "cm"', False),
    ("accuracy = 0.01", "accuracy = 0.6", False),
    ("accuracy = 0.01", "acuracy = 0.01", False),
    ("accuracy = 0.01", "accuracy = 1e-6", True),
    ("accuracy = 0.01", "accuracy = 9e-7", False),
    ("[[hold.bare]]", "[[part.lobes]]\ncount = 2\namplitude = 0\n" * 200 + "[[hold.bare]]", True),
    ("[[hold.bare]]", "[[part.lobes]]\ncount = 2\namplitude = 0\n" * 201 + "[[hold.bare]]", False),
    ("[[step]]", "[[step]]\nhold = 'free'\n" * 199 + "[[step]]", True),
    ("[[step]]", "[[step]]\nhold = 'free'\n" * 200 + "[[step]]", False),
    ("[[hold.bare]]", "[[hold.bare]]\nscheme = 'points'\nforce = 0\ncount = 2\n" * 19 + "[[hold.bare]]", True),
    ("[[hold.bare]]", "[[hold.bare]]\nscheme = 'points'\nforce = 0\ncount = 2\n" * 20 + "[[hold.bare]]", False),
    ("[[step.cut]]", "[[step.cut]]\nsurface = 'outer'\ndiameter = 109.5\n" * 51 + "[[step.cut]]", False),
    ("[[hold.bare]]", f"[[hold.{'n' * 61}]]\nscheme = 'plug'\ndiameter = 92\n[[hold.bare]]", False),
    ('"Bronze thrust ring, bore to size"', f"'{'x' * 200}'", True),
    ('"Bronze thrust ring, bore to size"', f"'{'x' * 201}'", False),
    ("outer_diameter = 110.0", "outer_diameter = '110 N'", False),
    ("outer_diameter = 110.0", "", False),
    ("length = 30.0", "length = -30.0", False),
    ('material = "bronze C93200"', "material = { young_modulus = 1e5, poisson_ratio = 0.5 }", False),
    ('material = "bronze C93200"', "material = { young_modulus = 1e5 }", False),
    ('surface = "bore"\n', 'surface = "inside"\n', False),
    ("diameter = 94.0", "", False),
    ("force_scale = 1.0", "force_scale = -0.5", False),
    ("[[step]]", "[mesh]\naround = 11\nthrough = 2\n[[step]]", False),
]


def main():
    schema_file, program, *cases = sys.argv[1:]
    schema = json.loads(pathlib.Path(schema_file).read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    passed = failed = 0

    def agree(name, text, right):
        nonlocal passed, failed
        by_schema = validator.is_valid(tomllib.loads(text))
        run = subprocess.run([program, "check", "-", "--quiet"], input=text.encode(), capture_output=True)
        by_program = {0: True, 3: False}.get(run.returncode)
        if by_schema is right and by_program is right:
            passed += 1
        else:
            failed += 1
            print(f"{name}: right {right}, by the schema {by_schema}, by check {by_program}")

    for case in cases:
        agree(case, pathlib.Path(case).read_text(encoding="utf-8"), True)
    first = pathlib.Path(cases[0]).read_text(encoding="utf-8")
    for old, new, right in CHANGES:
        # what stands between commas and comments of a line, not in a comment line
        lines = first.splitlines(keepends=True)
        body = "".join(line for line in lines if not line.startswith("#"))
        if body.count(old) != 1:
            failed += 1
            print(f"{old!r} stands {body.count(old)} times in {cases[0]}")
            continue
        agree(f"{old!r} -> {new!r}", body.replace(old, new), right)
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
