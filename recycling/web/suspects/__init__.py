"""Pages from a bad spool to the cause, and to every spool that shares it."""
