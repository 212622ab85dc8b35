"""The command line: each verb parses its arguments, calls a room, and prints."""
