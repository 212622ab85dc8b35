"""Encoded situations kept on disk beside their cases."""
