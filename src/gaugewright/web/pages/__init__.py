"""Pages of the app: one module an area of the work."""
