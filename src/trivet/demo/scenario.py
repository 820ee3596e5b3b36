"""The settings of the invented campaign, as text with comments."""

from __future__ import annotations

CAMPAIGN = """\
# Settings of the demonstration campaign. Laboratory, people and data are invented.
campaign:
  id: demo
  title: Sealing the lead of the reference
  question: Does the way of sealing the lead passage change how long the cells live?
  people: [A. Invented, B. Invented]
  organisation: Invented Laboratory for Small Cells
  licence: CC0-1.0
  time_zone: Europe/Berlin
  planned_end: "2026-03-09"
  invented: true

build_sheet:
  factors: [seal, separators]

raw:
  cycling:
    - {files: "raw/cycling-semicolon/{cell}.csv", layout: semicolon}
    - {files: "raw/cycling-unit-row/{cell}.txt", layout: unit-row}
    - {files: "raw/cycling-discharge-positive/{cell}.csv", layout: discharge-positive}
    - {files: "raw/cycling-bdf/{cell}.bdf.csv", layout: bdf}
  impedance:
    - {files: "raw/impedance-semicolon/{cell}_{cycle}.csv", layout: impedance-semicolon}
    - {files: "raw/impedance-unit-row/{cell}_{cycle}_{pair}.txt", layout: impedance-unit-row}
    - {files: "raw/impedance-polar/{cell}_{cycle}_{pair}.csv", layout: impedance-polar}
    - {files: "raw/impedance-bdf/{cell}_{cycle}_{pair}.bdf.csv", layout: bdf}
  layouts:
    # Decimal comma, a preamble, local time of day beside the elapsed time.
    semicolon:
      encoding: cp1252
      delimiter: ";"
      decimal: ","
      columns:
        - {header: "Laufzeit [s]", quantity: elapsed time, unit: s}
        - {header: Zeitpunkt, quantity: absolute time, format: "%d.%m.%Y %H:%M:%S"}
        - {header: Zyklus, quantity: cycle}
        - {header: "Strom [mA]", quantity: current, unit: mA}
        - {header: "Zellspannung [V]", quantity: cell voltage, unit: V}
        - {header: "Potential Plus [V]", quantity: positive potential, unit: V}
        - {header: "Potential Minus [V]", quantity: negative potential, unit: V}
    # Units in a row of their own; hours since the start, no calendar, no negative.
    unit-row:
      delimiter: "\\t"
      unit_row: true
      columns:
        - {header: time, quantity: elapsed time, unit: h}
        - {header: counter, quantity: cycle}
        - {header: current, quantity: current, unit: mA}
        - {header: voltage, quantity: cell voltage, unit: V}
        - {header: positive vs ref, quantity: positive potential, unit: V}
    # Amperes, discharge positive.
    discharge-positive:
      charging_current: negative
      columns:
        - {header: unix_s, quantity: unix time, unit: s}
        - {header: cycle_no, quantity: cycle}
        - {header: I_A, quantity: current, unit: A}
        - {header: U_cell_V, quantity: cell voltage, unit: V}
        - {header: U_pos_ref_V, quantity: positive potential, unit: V}
        - {header: U_neg_ref_V, quantity: negative potential, unit: V}
    # Three pairs in one file; the imaginary part of a capacitor is written positive.
    impedance-semicolon:
      encoding: cp1252
      delimiter: ";"
      decimal: ","
      capacitive_imaginary: positive
      columns:
        - {header: Zeitpunkt, quantity: absolute time, format: "%d.%m.%Y %H:%M:%S"}
        - {header: Paar, quantity: pair}
        - {header: "Frequenz [Hz]", quantity: frequency, unit: Hz}
        - {header: "Realteil [mOhm]", quantity: real, unit: mohm}
        - {header: "neg. Imaginärteil [mOhm]", quantity: imaginary, unit: mohm}
    impedance-unit-row:
      delimiter: "\\t"
      unit_row: true
      columns:
        - {header: t unix, quantity: unix time, unit: s}
        - {header: f, quantity: frequency, unit: kHz}
        - {header: Z real, quantity: real, unit: ohm}
        - {header: Z imag, quantity: imaginary, unit: ohm}
    impedance-polar:
      columns:
        - {header: unix_s, quantity: unix time, unit: s}
        - {header: f_Hz, quantity: frequency, unit: Hz}
        - {header: modulus_ohm, quantity: modulus, unit: ohm}
        - {header: phase_deg, quantity: phase, unit: deg}

electrodes:
  positive: {material: LFP, theoretical_capacity_mAh_g: 169.9}
  negative: {material: graphite}

cycling:
  capacity_basis_mAh: 2.0
  ageing_rate: 0.5
  check_up_rate: 0.1
  upper_voltage_V: 3.65
  lower_voltage_V: 2.5

reference:
  disc_diameter_mm: 4.0
  wire_width_um: 30.0
  wire_pitch_um: 127.0
  channel_resistance_ohm: 1.0e+9

comparison:
  factors:
    - {factor: seal, control: tape}
    - {factor: separators, control: 1+1}
  confidence: 0.95
  equivalence_margin: 1.25
  looks: final
  covariates:
    - wetted_at to crimped_at
    - out_of_glovebox_at to sealed_at
    - electrolyte_uL
  ordered: {separators: [1+1, 2+1]}
"""
