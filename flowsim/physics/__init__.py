"""Published laws: numbers in, numbers out."""
