"""What pages, API and reports show and take: frozen dataclasses, every field explained."""
