"""Runs of continuous freezers: ready and purged, the first tubs, draw and cup, feeder lots, hardening, the end."""
