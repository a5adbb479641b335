"""The command line: carries text in and answers out. Everything heavy is imported by the command that needs it."""

import click

from .shared import Commands


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="tuning")
def main() -> None:
    """Set ride height, level and cross-weight of a truck on coilovers.

    Log what tape and scales say, see a load-versus-height model of each corner, and be told how many turns to put
    in at which nut, what to expect of it and how sure that is.
    """


from . import access, answers, bench, records, serving, sheet, walk  # noqa: E402, F401 (they hang their commands on `main`)
