"""Talking the proposal over with the dentist."""
