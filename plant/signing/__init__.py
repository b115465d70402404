"""Keys, signatures and documents: no Django, no clock, no database; paths and times come as arguments."""
