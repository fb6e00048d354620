"""Members and their gauged sections: planes, moments, predictions."""
