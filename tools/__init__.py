"""What the repository needs to look after itself; nothing here is part of the package."""
