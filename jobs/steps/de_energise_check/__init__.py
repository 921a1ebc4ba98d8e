"""Step 2: the circuit outside the pack is switched off, secured and proven dead."""
