"""Days and times in German."""
