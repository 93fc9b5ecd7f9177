"""Files in and out: mesh readers, and the views of a kit that make up its folder."""
