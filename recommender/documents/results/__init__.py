"""What the verbs print with ``--json``: the result format, version 1 (``shared/schema/``)."""
