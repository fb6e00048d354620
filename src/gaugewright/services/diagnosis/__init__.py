"""What is wrong with a gauge, from everything known of it."""
