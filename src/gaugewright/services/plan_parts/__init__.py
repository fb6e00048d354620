"""What a plan comes to, part by part, for pages, commands and files."""
