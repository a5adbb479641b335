"""The README shows what the tool really prints."""

import re
from pathlib import Path

from click.testing import CliRunner

from tuning.cli import main

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text("utf-8")


def test_the_demo_prints_what_the_readme_shows():
    printed = CliRunner().invoke(main, ["demo", "--no-serve"]).output
    shown = re.search(r"```\n(Night shift.*?)```", README, re.DOTALL)
    assert shown is not None
    assert shown[1].strip() in printed


def test_the_first_truck_of_the_readme_is_answered(tmp_path):
    table = re.search(r"```\n(run,taken_at.*?)```", README, re.DOTALL)
    assert table is not None
    readings, truck = tmp_path / "readings.csv", tmp_path / "truck.toml"
    readings.write_text(table[1], "utf-8")
    log = ["--log", str(tmp_path / "log.db")]
    steps = (
        ["new", str(truck)],
        ["import", "--truck", str(truck), "--readings", str(readings), *log],
        ["adjust", "--truck", "Night shift", *log],
    )
    for step in steps:
        result = CliRunner().invoke(main, step)
        assert result.exit_code == 0, result.output
    assert "Chance of landing" in result.output


def test_every_command_the_readme_names_exists():
    named = set(re.findall(r"`(?:\.venv/bin/)?tuning ([a-z]+)", README))
    assert named
    assert named <= set(main.commands)


def test_every_link_of_the_readme_leads_somewhere():
    for target in re.findall(r"\]\(([^)#]+)\)", README):
        assert (ROOT / target).exists(), target
