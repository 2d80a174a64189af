"""Holds the JSON Schema of the case file against the program's reader on generated cases, with an outside validator (PyPI `jsonschema`)
and TOML read by Python's own tomllib.

    schema_cases.py SCHEMA.json RINGWRIGHT FOLDER

FOLDER holds a folder for each case: case.toml and the readings that it names. What the reader takes the schema must take, or an editor
would underline what is right; and where the schema has no complaint, the reader must have none of keys that it does not know or of
values of the wrong kind (what goes together only the reader can tell). Prints what failed and `N passed, M failed`; exit 1 if any failed.

Truth: other program; an outside validator
"""

import json
import pathlib
import subprocess
import sys
import tomllib

import jsonschema

# how the reader begins or ends what a schema can say too
OF_THE_SHAPE = ("unknown key", "expected a table", "expected a whole number", "expected a list of tables")
# generated cases that are too broken to be TOML prove nothing; so many must be left
LEAST = 200


def main():
    schema_file, program, folder = (str(pathlib.Path(a).resolve()) for a in sys.argv[1:])
    schema = json.loads(pathlib.Path(schema_file).read_text(encoding="utf-8"))
    validator = jsonschema.Draft202012Validator(schema)
    passed = failed = taken = refused = 0
    for case in sorted(pathlib.Path(folder).glob("*/case.toml")):
        try:
            document = tomllib.loads(case.read_bytes().decode("utf-8"))
        except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError):
            continue
        run = subprocess.run([program, "check", "case.toml", "--json"], cwd=case.parent, capture_output=True)
        messages = [p["message"] for p in json.loads(run.stdout)["problems"]] if run.returncode == 3 else []
        complaint = jsonschema.exceptions.best_match(validator.iter_errors(document))
        of_shape = [m for m in messages if any(words in m for words in OF_THE_SHAPE)]
        if run.returncode == 0 and complaint is not None:
            failed += 1
            print(f"{case}: taken by the reader, not by the schema: {complaint.message[:300]}")
        elif complaint is None and of_shape:
            failed += 1
            print(f"{case}: taken by the schema, not by the reader: {of_shape[0][:300]}")
        elif run.returncode not in (0, 3):
            failed += 1
            print(f"{case}: exit {run.returncode}")
        else:
            passed += 1
        taken += run.returncode == 0
        refused += run.returncode == 3
    if taken < LEAST or refused < LEAST // 10:
        failed += 1
        print(f"only {taken} cases taken and {refused} refused")
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
