"""Settings that all tests share."""

import os

from hypothesis import settings

# The normal run draws the same examples every time, so that it says the same of the same code;
# RPD_LONG=1 draws by chance.
settings.register_profile("steady", derandomize=True, database=None, deadline=None)  # nothing is timed here
if not os.environ.get("RPD_LONG"):
    settings.load_profile("steady")
