"""What happens to a joint after assembly: load, temperature, vibration, moisture, voltage, switching.

Mechanical: `strength`, `plate` and `vibration` (modes, random response), `shaking` (what each package stands).
Thermal: `thermal_cycling`, `attachment`, `lives` and `chamber` (cycles to years and to test), `heat`, `board_heat`,
`resistances`. Electrical: `electrical`, `package_inductance`, `clearance`. Dirt and damp: `moisture`,
`contamination`. Where the product lives: `environments`, `qualification`. Nothing is imported here, so that the
formula book lists its keys without loading numerics.
"""
