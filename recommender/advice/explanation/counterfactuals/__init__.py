"""What would change an answer: other facts, preparations, weights."""
