"""Samples and what a laboratory found in them: results judged by the plan, product that waits for them, trends."""
