"""Results as records, and which record each cause of uncertainty came from."""
