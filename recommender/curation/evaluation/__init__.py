"""Agreement with published and stored designs."""
