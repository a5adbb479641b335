"""python -m tests.study.sag --logs 300 --seed 1 [--alarms 200]: where the height went, on simulated logs of two years.

recovery   spring set, height lost, verdicts, trends and forecasts against what was put in
dates      when a corner leaves its tolerance, on logs of their own in which springs settle
alarms     how soon a sudden set of a quarter inch is found, how often nothing rings
"""

import argparse
import os

os.environ.setdefault("OMP_NUM_THREADS", "1")  # small matrices: threads only get in each other's way


def main() -> None:
    """Run the studies and print their tables."""
    from .sag_alarms import alarms
    from .sag_dates import dates
    from .sag_recovery import recovery
    from .sag_report import alarms_markdown, dates_markdown, recovery_markdown

    parser = argparse.ArgumentParser(
        prog="python -m tests.study.sag", description=(__doc__ or "").split(":")[0]
    )
    parser.add_argument("--logs", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--alarms", type=int, default=200, help="trucks on which the alarm is tried, 0: none")
    asked = parser.parse_args()
    print(recovery_markdown(recovery(asked.logs, asked.seed)))
    print(dates_markdown(dates(asked.logs, asked.seed)))
    if asked.alarms:
        print(alarms_markdown(alarms(asked.alarms, asked.seed)))


if __name__ == "__main__":
    from .terminal import until_stopped

    until_stopped(main)
