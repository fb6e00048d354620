"""The plan: questions, places, prediction, selection, electrical, losses."""
