"""Each tail over time: series freed of weather and load, slopes, steps, projections, and what to make of them."""
