"""Orders in free text: what a dentist wrote, read into proposals for the fields of a case."""
