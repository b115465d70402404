"""Layout objects shared by the forms of both packages."""
