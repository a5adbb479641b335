"""One module for each address."""
