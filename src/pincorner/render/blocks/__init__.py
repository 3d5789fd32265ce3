"""What goes to a controller: setup blocks, joints, and the last look at them."""
