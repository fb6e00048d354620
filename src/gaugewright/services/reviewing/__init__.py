"""What looks wrong in readings: findings with evidence, decided by a person."""
