"""What the thing is: the stack, the coils, the tag, their materials and wire, and the mesh of them."""
