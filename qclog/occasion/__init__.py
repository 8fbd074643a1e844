"""A guided measuring occasion: the plan, what is wanted next, and the journal that loses nothing. No printing."""
