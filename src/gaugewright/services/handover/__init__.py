"""What leaves a campaign: report, files, and their proof."""
