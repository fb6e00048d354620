"""What a laboratory brings to every campaign: people, packs, limits, survival."""
