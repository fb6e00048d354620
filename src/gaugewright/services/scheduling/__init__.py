"""The days at the bench, laid out backward from the pour."""
