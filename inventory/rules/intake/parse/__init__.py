"""What the cells of an inventory list say, in the forms that people really write."""
