"""Why this, why not that, how sure, and what would change it."""
