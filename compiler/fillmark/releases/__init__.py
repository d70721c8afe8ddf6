"""From a checked method to a released one: the bundle, the register, what verifies them, and controlled copies."""
