"""What services share when they write: the deed, look-ups, making lots, keeping compositions."""
