"""Facts, rules, belief, plan, explanation and the session."""
