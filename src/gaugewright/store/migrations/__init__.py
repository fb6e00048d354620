"""Steps from each schema to the next; they touch only tables that follow from the journal."""
