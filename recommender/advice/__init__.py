"""Candidates, scores, whole frameworks, explanations, and the prescription held against them."""
