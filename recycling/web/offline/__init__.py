"""Working without network: pages that a device keeps, and entries that wait on it."""
