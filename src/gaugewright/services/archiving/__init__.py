"""The archive of a campaign: made, opened, proved from raw."""
