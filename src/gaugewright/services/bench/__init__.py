"""Work at the bench: methods, steps, cure, supplies, what was lost."""
