"""Checks of the tool."""
