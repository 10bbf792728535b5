"""How each thing is done: a detail turns a place into claims, and claims and pieces into steps, checks and ties."""
