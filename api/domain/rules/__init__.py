"""The rules, one file a kind of condition; ``judge.py`` holds the explicit tuple of them."""
