"""Live samples of recorders: taken from MQTT and from gateways, staged, judged each minute, sealed into blocks."""
