"""Holds documents to their schemas with the reference implementation of JSON Schema for Python.

Reads a JSON list of {"command", "schema", "document"} on standard input and prints a line for each breach.
"""

import json
import sys

try:
    import jsonschema
except ImportError as error:
    print(f"missing: Python with jsonschema ({error})")
    sys.exit()

for case in json.load(sys.stdin):
    jsonschema.Draft202012Validator.check_schema(case["schema"])
    validator = jsonschema.Draft202012Validator(case["schema"])
    for breach in validator.iter_errors(case["document"]):
        print(f"{case['command']}: {breach.json_path}: {breach.message[:300]}")
