"""Positions and areas: inside, outside or cannot tell, in metres on the ellipsoid."""
