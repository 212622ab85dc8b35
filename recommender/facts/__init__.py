"""What follows from a case: every fact a rule may read, with value or interval, unit and origin."""
