"""What does a command's help teach: what it does, when, how, and what comes next."""

__all__ = ["teaching"]


def teaching(*, does: str, when: str, example: str, after: str) -> str:
    """Help of one command; every command has all four parts."""
    return "\n\n".join(
        (
            " ".join(does.split()),
            "When: " + " ".join(when.split()),
            "Example: " + " ".join(example.split()),
            "Next: " + " ".join(after.split()),
        )
    )
