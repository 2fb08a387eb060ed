#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Validates files against a JSON Schema with an independent validator, and sees that broken ones are rejected.

check_schema.py SCHEMA FILE...   exit 77 when the jsonschema package is not installed
"""
import copy
import json
import sys

try:
    import jsonschema
except ImportError:
    sys.exit(77)


def places(value, path=()):
    """Paths of every member and item, up to two of each list."""
    if isinstance(value, dict):
        for key, child in value.items():
            yield path + (key,)
            yield from places(child, path + (key,))
    elif isinstance(value, list):
        for i, child in list(enumerate(value))[:2]:
            yield from places(child, path + (i,))


def main(schema_path, paths):
    with open(schema_path, encoding="utf-8") as file:
        schema = json.load(file)
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    for path in paths:
        with open(path, encoding="utf-8") as file:
            instance = json.load(file)
        validator.validate(instance)
        for key in ("components", "trims", "prototypes", "rows", "bindings"):  # a few are enough to break
            if key in instance:
                instance[key] = instance[key][:3]
        instance.pop("cloth_vertex_of", None)
        for name in instance.get("maps", {}).values():
            for key in name if isinstance(name, dict) else ():
                name[key] = name[key][:2]
        rejected = tried = 0
        for place in places(instance):
            broken = copy.deepcopy(instance)
            at = broken
            for step in place[:-1]:
                at = at[step]
            at[place[-1]] = {"not": "this"}
            tried += 1
            rejected += not validator.is_valid(broken)
        print("%s: valid; %d of %d broken members rejected" % (path, rejected, tried))
        if tried < 15 or rejected < 0.9 * tried:
            sys.exit("the schema accepts broken files")


main(sys.argv[1], sys.argv[2:])
