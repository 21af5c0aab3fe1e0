"""Reports to fixes, phases, silence, landing and alerts: pure, a fold over events."""
