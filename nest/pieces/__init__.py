"""From template to graded rough vamps and reinforcements."""
