"""What in a text could identify a patient, and the gate that every text goes through on its way into a library."""
