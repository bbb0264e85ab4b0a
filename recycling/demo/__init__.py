"""An invented workshop and its season, made by calling the services; nothing here is measured."""
