"""A job drawn on its stock: true to scale, from above and from the side."""
