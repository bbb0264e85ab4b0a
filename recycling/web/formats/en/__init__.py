"""Days and times in English."""
