"""Drawings: SVG for paper and pages without script, plotly figures for pages."""
