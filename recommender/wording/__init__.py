"""From statements to words: the only place in which a sentence about a case is built."""
