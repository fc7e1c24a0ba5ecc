"""``python -m gramhour_service.commandline.settings_table`` writes deploy/settings.md."""

import sys

import click

from gramhour_service.commandline.serve import serve
from gramhour_service.commandline.service import service_options

HEAD = """\
# Every setting

Each can be given to the command, or stand in the environment (of systemd: in
`/etc/gramhour.env`, one `NAME=value` a line). The command comes first. Several values stand in
the environment with a space between.

| option | in the environment | unless given | what it does |
|---|---|---|---|
"""


def table() -> str:
    """Write all settings of the service, and those of commands that ask it, as Markdown."""
    asking = service_options(click.command("ask")(lambda: None))
    rows = {
        option.opts[0]: _row(option)
        for command in (serve, asking)
        for option in command.params
        if isinstance(option, click.Option) and option.envvar and not option.hidden
    }
    return HEAD + "".join(rows.values())


def _row(option: click.Option) -> str:
    names = ", ".join(f"`{name}`" for name in (*option.opts, *option.secondary_opts))
    given = isinstance(option.default, str | int | float)
    told = f"`{option.default}`".lower() if given else "off" if option.is_flag else ""
    return f"| {names} | `{option.envvar}` | {told} | {option.help} |\n"


if __name__ == "__main__":
    sys.stdout.write(table())
