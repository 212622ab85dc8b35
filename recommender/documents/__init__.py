"""The drawing, the letter to the dentist and the bench ticket."""
