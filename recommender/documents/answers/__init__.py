"""The dentist's answer: what is signed, the form to answer on screen, and the file that comes back."""
