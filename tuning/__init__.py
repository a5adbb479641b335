"""Ride height, level and cross-weight of a truck on coilovers: log, fit, turn, read again."""

import os

# All matrices here are small: on a busy machine, threads that wait for each other make them a hundred times slower.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
