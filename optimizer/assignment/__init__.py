"""Which discs go where: the only room that talks to the constraint solver."""
