"""Changes of the tables from one version of the program to the next."""
