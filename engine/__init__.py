"""The engine of prepwright: knows facts, rules, reckoning and reasoning, and no screen."""
