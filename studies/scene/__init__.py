"""A case in three dimensions: tube, ice and what breaks, as triangles that a renderer or a page draws."""
