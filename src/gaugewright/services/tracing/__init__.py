"""What a number is made of, and the records it stands on."""
