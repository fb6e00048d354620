"""Members and bare metal as described: outline, supports, statics."""
