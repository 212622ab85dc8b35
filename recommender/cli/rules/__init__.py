"""The ``rules`` verb."""
