"""Labels of the limits that causes of uncertainty are taken from."""

__all__ = [
    "DRIFT_RATE",
    "HOLD_HIGH",
    "HOLD_LOW",
    "INSTALLATION",
    "LEAD_WARMING",
    "LOCAL_BENDING",
    "MISALIGNMENT",
    "MODULUS_SLOPE",
    "REFERENCE_LOAD",
    "ZERO_DRIFT",
]

INSTALLATION = "installation scatter"
MISALIGNMENT = "misalignment allowance"
LEAD_WARMING = "lead warming difference"
ZERO_DRIFT = "zero drift allowance"
LOCAL_BENDING = "local bending share"
# Not shipped: nobody can know it for another laboratory. What stands in a campaign counts.
DRIFT_RATE = "drift rate allowance"
HOLD_LOW = "stress held past yield, lowest"
HOLD_HIGH = "stress held past yield, highest"
MODULUS_SLOPE = "modulus change with temperature"
REFERENCE_LOAD = "reference load"
