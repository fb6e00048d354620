"""What goes out: the analyst’s files, everything at once, archives made and proved."""
