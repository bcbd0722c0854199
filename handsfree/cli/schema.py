"""`handsfree schema`: the JSON Schema of checklist files, for editors that complete and check."""

from __future__ import annotations

import json

import click


@click.command()
def schema() -> None:
    """Print the JSON Schema of a checklist file.

    Save it and tell your editor where it is; many editors read a first line such as
    '# yaml-language-server: $schema=handsfree.schema.json'.  It comes from the same table as the
    messages of 'handsfree check', which say more and have the last word.
    """
    from handsfree.checklist.schema import json_schema

    found = json_schema()
    # A file that is only included by others has no steps and needs no title.
    needed = found.pop("required")
    found["if"] = {"required": ["steps"]}
    found["then"] = {"required": needed}
    click.echo(json.dumps(found, indent=2, ensure_ascii=False))
