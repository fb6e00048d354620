"""What numbers mean, what to do first, and guides of one page."""
