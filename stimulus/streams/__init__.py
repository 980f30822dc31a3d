"""Markers for other recorders while an exam runs: Lab Streaming Layer outlets."""
