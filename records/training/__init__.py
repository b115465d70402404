"""Training: who was trained in what, when, by whom and how it was proven; who lacks what the plan asks."""
