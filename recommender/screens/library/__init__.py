"""The library page."""
