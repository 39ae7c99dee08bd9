"""The tree card: what is known of the chosen tree, and putting it right."""
