"""One bar along its length: strain, force, bond and slip, moment by moment."""
