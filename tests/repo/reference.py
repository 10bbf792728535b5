"""Writes docs/commands.md from the command line itself: `make docs`. A test fails when the two differ."""

from __future__ import annotations

from typing import Any

import typer

from lapwright.cli.app import SHOWN, app
from lapwright.plan.document import KEYS

HEAD = """# Commands

Made by `make docs` from the command line's own help; a test fails when the two differ.

A job is a folder with a `house.yaml` in it; `JOB` is that folder or the file itself. Nothing leaves the machine.

| exit status | means |
|---|---|
| 0 | no finding says stop |
| 1 | the job was read, but a finding says stop: outputs are written, the cover says "do not build" |
| 2 | the job cannot be read or contradicts itself: nothing is written, an old packet stays, each finding has file and line |
| 3 | wrong command line |
| 70 | the program broke down, which is our fault: it says so; with `LAPWRIGHT_TRACEBACK=1` set it also says where |
"""
SURVEY_KEYS = ("job", "surfaces", "survey", "findings")


def command_table() -> dict[str, Any]:
    """Return the commands by name, as the command line library holds them."""
    return dict(typer.main.get_command(app).commands)  # type: ignore[attr-defined]


def keys_of(name: str) -> list[str]:
    """Return which keys a command prints with --json: those of plan.json that it computes."""
    if name == "compare":
        return ["compare", "findings"]
    if name == "air":
        return [
            "tests",
            "averages",
            "changes",
            "house",
            "ventilation",
            "combustion",
            "predicted",
            "reconciled",
            "findings",
        ]
    if name == "moisture":
        return ["job", "climate", "members", "days", "seed", "assemblies", "findings"]
    if name == "heat":
        return ["job", "climate", "framing_share", "assemblies", "findings"]
    if name == "ifc":
        return ["ifc", "written", "findings"]
    if name == "packet":
        return ["version", *KEYS]
    return ["version", *(SURVEY_KEYS if name == "survey" else SHOWN[name])]


def _argument(param: Any) -> str:
    return f"- `{param.metavar or param.human_readable_name.upper()}`: {param.help}"


def _option(param: Any) -> str:
    names = ", ".join([*param.opts, *param.secondary_opts])
    value = "" if param.is_flag else f" {param.metavar or 'VALUE'}"
    return f"- `{names}{value}`: {param.help}"


def _section(name: str, command: Any) -> str:
    arguments = [p for p in command.params if p.param_type_name == "argument"]
    options = [p for p in command.params if p.param_type_name == "option"]
    usage = " ".join(["lapwright", name, *(p.metavar or p.human_readable_name.upper() for p in arguments), "[options]"])
    rows = [_argument(p) for p in arguments] + [_option(p) for p in options]
    said = "\n".join([f"## {name}", "", command.help.strip(), "", f"    {usage}", "", *rows])
    keys = ", ".join(f"`{k}`" for k in keys_of(name))
    tried = " With `--try` or `--accept`: `change`, `compare`, `findings`." if name == "continuity" else ""
    return f"{said}\n\nWith `--json`, one document on standard output: {keys}.{tried}\n"


def reference() -> str:
    """Return the text of docs/commands.md."""
    root = typer.main.get_command(app)
    options = "\n".join(_option(p) for p in root.params)
    return "\n".join(
        [
            HEAD,
            f"Without a command:\n\n{options}\n- `-h, --help`: After any command: what it does and takes.\n",
            *(_section(n, c) for n, c in command_table().items()),
        ]
    )


if __name__ == "__main__":
    print(reference(), end="")
