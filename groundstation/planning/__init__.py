"""Before the flight: gas, burst, parachute, where it lands, and which rules count."""
