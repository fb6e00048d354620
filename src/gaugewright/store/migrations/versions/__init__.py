"""One module a step, numbered like the schema it leads to."""
