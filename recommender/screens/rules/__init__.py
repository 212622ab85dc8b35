"""The rules page."""
