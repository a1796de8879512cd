"""Figures as plain functions: what the analysis gives goes in, a Plotly figure comes out."""
