"""Which work is done in the background, and what each kind of it does."""
