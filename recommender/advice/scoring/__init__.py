"""How an option comes by its score: criteria, rules that fired, precedents."""
