"""Entering a plan: the form of every kind of record, stations from spreadsheets and drawings."""
