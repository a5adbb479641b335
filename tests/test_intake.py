"""Import is all of it or nothing, the truck file included."""

import pytest

import sample_runs
from tuning.log.database import LogError
from tuning.log.intake import take_in
from tuning.log.store import Log


def test_a_refused_import_leaves_the_truck_file_as_it_was(tmp_path):
    sample = sample_runs.path("night_shift")
    log = Log.open(tmp_path / "log.db")
    take_in(log, str(sample / "truck.toml"), str(sample / "readings.csv"), confirm=True)
    changed = tmp_path / "truck.toml"
    changed.write_text((sample / "truck.toml").read_text("utf-8") + "\n# changed\n", "utf-8")
    with pytest.raises(LogError, match="r1"):
        take_in(log, str(changed), str(sample / "readings.csv"), confirm=True)
    other = Log.open(tmp_path / "log.db")
    assert len(other.truck_versions("Night shift")) == 1
