"""The solver: places outlines in regions and strips. Knows no files, no money, no shoes."""
