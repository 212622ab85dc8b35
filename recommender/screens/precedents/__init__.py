"""The precedents page."""
