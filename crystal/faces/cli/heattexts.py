"""Help texts of the commands on heat and time."""

from __future__ import annotations

from crystal.faces.cli.helptexts import START, HelpText

COMMANDS = {
    "marks": HelpText(
        "one end point by volume, mass, hydrometer and boiling temperature",
        """\
One end point in four ways that do not hang together: the volume of the clear liquid and its density at the temperature
where they are read, the mass on a balance with the vessel tared, and the temperature at which it boils at the local
pressure. With --reading instead of --reduce-to: the composition that a boiling temperature or a hydrometer's density means; the
pot may then be left out.""",
        'crystal marks "Epsom salt" --holds "200 g of MgSO4.7H2O" --start "500 mL" --reduce-to "270 mL" --altitude "800 m"',
        f"""\
  salt, {START},
  mass_percent, volume_mL, volume_error_mL, read_at_degC, mass_g, gross_mass_g (null without --tare), density_g_mL,
  density_error_g_mL, specific_gravity_60_60_degF, baume_degrees (US scale; null for a liquid lighter than water),
  boiling_degC, boiling_error_K, boiling_basis, boiling_error_volume_percent (null where no boiling temperature is known),
  water_boils_degC, pressure_kPa, fraction_of_start, water_removed_g,
  hot {{read_at_degC, volume_mL, density_g_mL, specific_gravity_60_60_degF, baume_degrees}} (null where the end point is
    clear at read_at_degC), reading {{mass_percent, low_mass_percent, high_mass_percent}} (null without --reading), warnings
  Without a pot only salt, reading and warnings. In reduce the same keys stand under marks.""",
    ),
    "boil": HelpText(
        "water, heat and hours of boiling down, by power or by the pot's own log",
        """\
What boiling down to an end point takes: water to drive off, heat, hours for a heater's power; or, from readings of the
pot itself, its rate with warm-up left out, and when it will be at the end, with a band of 19 in 20 cases. The log is a CSV
file with time_h or time_min, and volume_mL or mass_g, and temperature_degC where it was read. With --follow the file is
read again as it grows, with a line on standard error for each new reading; it ends by itself at the end point, or after
--patience without one.""",
        'crystal boil MgSO4 --holds "200 g of MgSO4.7H2O" --start "500 mL" --reduce-to "270 mL" --power "500 W"',
        f"""\
  salt, {START},
  end_volume_mL, end_mass_g, read_at_degC, water_to_drive_off_g, boil_at_degC, sensible_heat_kJ, latent_heat_kJ,
  heat_kJ, efficiency_fraction, power_W, by_power_h (null without --power), pressure_kPa,
  fit {{rate_g_h, rate_error_g_h, used, readings, warm_up_h, misfit}} (null without --log; used and readings count, misfit is
    the readings' distance from the line in their own errors),
  end_h, early_h, late_h (on the log's clock; null where there is no such bound), left_h (after the last reading),
  standing {{word, temperature_degC, boiling_degC}} (steaming, boiling, too_hot; null where no temperature was read),
  log [{{time_h, volume_mL, mass_g, temperature_degC, water_g, used}}], warnings""",
    ),
    "cool": HelpText(
        "first crystals, seed, a cooling curve, a night outside",
        """\
How a pot is cooled: where first crystals are due, how far it may be undercooled, when to seed and with how much of what
size, a curve to lead it along, T = T0 - (T0 - Tf)(t/tau)^n, what it does when left to itself, what a night outside leaves,
and where a pot that keeps its heat ends. Without --reduce-to the pot is cooled as it is.""",
        'crystal cool KNO3 --holds "100 g" --water "120 g" --cool-to "10 degC" --size "2 mm" --hours "6 h"',
        f"""\
  salt, {START},
  end_volume_mL, end_mass_g, mass_percent, cool_from_degC, cool_to_degC, first_crystals_degC, first_solid,
  metastable_width_K, metastable_limit_degC, metastable_source, seed_at_degC (null where not due or not in the data),
  basis, path [{{temperature_degC, saturated_g_per_100g_water, pot_g_per_100g_water, ratio, difference_g_per_100g_water,
    zone}}] (as if it stayed clear; zone: undersaturated, metastable, supersaturated, beyond),
  crystals_g, phase, outcome, ice_g,
  seed {{temperature_degC, seed_mm, seed_g, critical_seed_g, size_mm}} (null without --size),
  controlled {{from_degC, to_degC, time_h, exponent, rows [{{time_h, temperature_degC, crystals_g}}]}},
  natural {{surroundings_degC, per_h, first_crystals_h, end_h, first_hour_percent}} (null without --readings),
  night [{{temperature_degC, outcome, crystals_g, ice_g, yield_percent}}],
  heat {{sensible_heat_kJ, crystals_kJ, crystals_kJ_g}} (null where no standard enthalpy is in the data),
  insulated {{from_degC, to_degC, crystals_g, phase}}, warnings""",
    ),
}
