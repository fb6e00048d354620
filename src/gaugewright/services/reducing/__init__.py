"""From readings to results, and what each number stands on."""
