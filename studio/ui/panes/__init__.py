"""The panes of the bench. They show what they are given, and ask for what they want."""
