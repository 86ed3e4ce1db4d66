#!/usr/bin/python3
"""Says of each settings file whether the JSON Schema accepts it: one line "valid" or "invalid".

usage: schema_check.py SCHEMA FILE...

Scalars are read after the core schema of YAML 1.2, as editors do: no dates, no sexagesimals, no
booleans but true and false.
"""
import json
import re
import sys

import jsonschema
import yaml


class CoreLoader(yaml.SafeLoader):
    """PyYAML speaks YAML 1.1; its scalars are replaced by those of 1.2."""


CoreLoader.yaml_implicit_resolvers = {}
for tag, pattern, first in [
    ("bool", r"^(?:true|false)$", "tf"),
    ("int", r"^-?(?:0|[1-9][0-9]*)$", "-0123456789"),
    ("float", r"^-?(?:0|[1-9][0-9]*)\.[0-9]+$", "-0123456789"),
    ("null", r"^(?:null|~|)$", ["n", "~", ""]),
]:
    CoreLoader.add_implicit_resolver("tag:yaml.org,2002:" + tag, re.compile(pattern), list(first))


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        schema = json.load(file)
    jsonschema.Draft7Validator.check_schema(schema)
    validator = jsonschema.Draft7Validator(schema)
    for path in sys.argv[2:]:
        with open(path, encoding="utf-8") as file:
            document = yaml.load(file, CoreLoader)
        print("valid" if validator.is_valid(document) else "invalid")


main()
