"""Runs of vat pasteurizers: the hold with its readings and looks, judged by the rows for vats; the outlet; the end."""
