"""The invented campaign, made and taken all the way."""
