"""A simulated county: houses whose wood dries by diffusion, read by imperfect meters."""
