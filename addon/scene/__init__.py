"""What the .blend keeps: settings, choices on faces and edges, openings, marks; and older files brought up to date."""
