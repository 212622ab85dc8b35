"""Settings that all tests share."""

import importlib
import os
import pkgutil

import pytest
from hypothesis import settings

import recommender

# The normal run draws the same examples every time, so that it says the same of the same code;
# RPD_LONG=1 draws by chance.
settings.register_profile("steady", derandomize=True, database=None, deadline=None)  # nothing is timed here
if not os.environ.get("RPD_LONG"):
    settings.load_profile("steady")


_SCRIPTS = ("recommender.__main__", "recommender.precedents.store.migrations.")


def pytest_collection_finish(session: pytest.Session) -> None:
    """Load the whole package before the first test of a run over several processes: examples are drawn from the
    constants of all loaded modules too, and which those are must not depend on which tests a process ran before.
    """
    if hasattr(session.config, "workerinput"):
        for module in pkgutil.walk_packages(recommender.__path__, "recommender."):
            if not module.name.startswith(_SCRIPTS):
                importlib.import_module(module.name)
