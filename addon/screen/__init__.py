"""What is seen: panels, menus, overlays. They read, and call operators; nothing imports them."""
