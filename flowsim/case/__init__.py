"""What a case file says: schema, units, reading."""
