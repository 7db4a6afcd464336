"""Room left on hides: an exact search for poses of a piece or a pair beside what a plan has placed."""
