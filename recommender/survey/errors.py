"""What is wrong with a scan, in one sentence that a person can act on."""


class ScanError(ValueError):
    """A scan, or what was marked on it, that cannot be used; the text is one sentence without file names."""
