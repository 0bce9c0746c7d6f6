"""What a person does: makes up, reduces, cools, and asks why."""
