"""How soon a change of rate can be over at the least."""
