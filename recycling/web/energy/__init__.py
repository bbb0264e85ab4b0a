"""Pages of machines: energy, changeovers, and checks at the stages."""
