"""One service for each step of the work; services join records, calculations and the store."""
