"""The local page: a pot described in a form, its end point dragged, everything that follows from it drawn at once."""
