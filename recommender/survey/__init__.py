"""Survey figures from a triangle mesh of a cast: numbers in, numbers out; no rule, no precedent, no screen."""
