"""What is kept: aircraft, logs, flights, measures, findings, dispositions, maintenance entries, traces."""
