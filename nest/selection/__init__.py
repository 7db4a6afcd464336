"""Which of many to take, in whole numbers: knows no shapes, no leather and no shoes."""
