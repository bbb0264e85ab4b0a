"""The wing `lists` of recycling/tasks."""
