"""The advice page."""
