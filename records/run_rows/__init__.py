"""What the runs of freezers and of vats share: rows in order of time, amending, what stands, their pages."""
