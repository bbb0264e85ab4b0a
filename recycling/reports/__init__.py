"""The wing `reports` of recycling."""
