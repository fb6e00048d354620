"""What a person decides: findings in a queue, stages on or off."""
