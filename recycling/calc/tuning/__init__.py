"""Setting a machine: how fast material flows, when a hopper runs empty, what to change next."""
