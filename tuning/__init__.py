"""Ride height, level and cross-weight of a truck on coilovers: log, fit, turn, read again."""
