"""How sure a choice is: in how many of 100 plausible worlds it would still come first, and what to ask next."""
