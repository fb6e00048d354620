"""A test followed while its recorders are still writing."""
