"""What happens to a joint after assembly: load, temperature, vibration, moisture, voltage, switching.

Mechanical: `strength`, `plate`, `vibration` and `pulses` (modes, random response, shocks), `shaking` (what each
package stands). Thermal: `thermal_cycling`, `attachment`, `surroundings`, `creep`, `damage`, `lives`, `lifeverdict`,
`owntests` and `chamber` (cycles to years, to what is shown, and to test), `heat`, `board_heat`, `heatfield`,
`resistances`. What must be told first: `safety`. Electrical: `electrical`, `package_inductance`, `clearance`. Dirt
and damp: `moisture`, `contamination`, `whiskers`, `atmosphere`. Before service: `shelf`. Where the product lives:
`environments`, `mission`, `device` (what a mission is worth in the tests of a die), `qualification`. Nothing is
imported here, so that the formula book lists its keys without loading numerics.
"""
