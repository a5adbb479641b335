"""The log of readings: files in and out, and the store that keeps them."""
