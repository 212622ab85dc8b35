"""A team on one library: people, their roles, and the guard that the database keeps by itself."""
