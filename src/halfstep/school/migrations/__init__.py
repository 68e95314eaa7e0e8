"""How tables of an older release become today's: one module for each change, none ever edited."""
