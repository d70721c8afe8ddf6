"""The published schemas: well-formed, described throughout, and found from the methods that name them."""

import json
from pathlib import Path

import pytest
import yaml
from jsonschema import Draft202012Validator

ROOT = Path(__file__).parents[1]
SCHEMAS = sorted((ROOT / "schemas").glob("*.json"))


def properties(schema, path=""):
    """Go through every property of a schema with the way to it."""
    if isinstance(schema, dict):
        for key, inner in schema.get("properties", {}).items():
            yield f"{path}.{key}", inner
        for key, inner in schema.items():
            yield from properties(inner, f"{path}.{key}")
    elif isinstance(schema, list):
        for inner in schema:
            yield from properties(inner, path)


@pytest.mark.parametrize("file", SCHEMAS, ids=lambda f: f.name)
def test_it_is_a_schema_and_every_property_has_hover_text(file):
    schema = json.loads(file.read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    assert [] == [path for path, inner in properties(schema) if not inner.get("description")]


@pytest.mark.parametrize("file", sorted((ROOT / "methods").glob("*.yaml")), ids=lambda f: f.stem)
def test_the_modeline_of_a_demo_leads_to_the_schema_and_the_demo_meets_it(file):
    text = file.read_text(encoding="utf-8")
    first = text.splitlines()[0]
    assert first.startswith("# yaml-language-server: $schema=")
    schema = (file.parent / first.partition("=")[2]).resolve()
    assert ROOT / "schemas" / "method.schema.json" == schema
    # An editor reads YAML 1.1 dates; the schema wants texts, as YAML 1.2 gives them.
    data = yaml.load(text, Loader=yaml.BaseLoader)
    del data["fillmark"]
    required = json.loads(schema.read_text(encoding="utf-8"))["required"]
    assert set() == set(required) - {"fillmark"} - set(data)


def test_every_example_of_a_quantity_in_the_schema_can_be_read():
    from fillmark.quantities import parse, parse_toleranced

    schema = json.loads((ROOT / "schemas" / "method.schema.json").read_text(encoding="utf-8"))
    read = 0
    for _, inner in properties(schema):
        for mark, reader in (("x-quantity", parse), ("x-toleranced", parse_toleranced)):
            if mark in inner and "examples" in inner:
                reader(inner["examples"][0], inner[mark].split("|")[0])
                read += 1
    assert read > 40
