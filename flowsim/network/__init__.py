"""The 0D resistance network and its Newton solver."""
