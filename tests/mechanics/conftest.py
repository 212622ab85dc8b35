"""A busy machine is no fault: the property checks here have no time limit for a single example."""

from hypothesis import settings

settings.register_profile("unhurried", settings.default, deadline=None)
settings.load_profile("unhurried")
