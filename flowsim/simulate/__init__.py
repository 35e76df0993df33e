"""One case: models built, coupled, solved, and read off as key figures."""
