"""Tests of the knowledge room."""
