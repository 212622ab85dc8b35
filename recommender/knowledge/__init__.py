"""The concept graph, the rules and the scoring figures, all read from ``shared/``."""
