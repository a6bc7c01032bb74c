"""Validates files by their exported schemas with an independent package (`jsonschema`)."""

from __future__ import annotations

import json
import tomllib
from functools import cache
from typing import Any

from jsonschema import Draft202012Validator

from diagnose.terminal.do_schema import NAMES


@cache
def validator(name: str) -> Draft202012Validator:
    """The validator of one sort of file, its schema checked against the meta-schema."""
    schema = json.loads(json.dumps(NAMES[name][1]()))
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


def plain(table: Any) -> Any:
    """A TOML table as JSON holds it: a date is a text of the form of one."""
    return json.loads(json.dumps(table, default=str))


def faults(name: str, table: Any) -> list[str]:
    """What a schema holds against a table: where, and the keyword that refused it."""
    found = validator(name).iter_errors(plain(table))
    return [f"{error.json_path}: {error.validator}" for error in found]


def faults_of_text(name: str, text: str) -> list[str]:
    """The same of the text of a TOML file."""
    return faults(name, tomllib.loads(text))
