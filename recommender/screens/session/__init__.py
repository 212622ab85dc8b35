"""What stays from page to page: the case in hand, the library in use, the current advice."""
