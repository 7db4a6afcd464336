"""What is cut from: hides and rolls."""
