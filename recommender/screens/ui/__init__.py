"""What every page uses: menu, look, words, the clickable arch."""
