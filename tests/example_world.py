"""Documents as text: all that a kind may say, and the least of it."""

EXAMPLE = """
format: 1
units: mm

machines:
  - name: gantry-1
    dialect: rs274
    units: mm
    homes: true
    travel: {x: [0, 1540], y: [0, 940], z: [-190, 0]}
    repeatability: 0.02
    homing: 0.03
    max_skew: 0.10
    tool_lengths: none
    touch_plate: 19.05
    beam: y
    carriage: {left: 120, right: 120, front: 140, back: 140}
    nose: 64
    straight_rapids: false
    park: [0, 940]
    home: {g28: [0, 0, 0], g30: [0, 940, 0]}
    home_named_axes: false

beds:
  - name: long-bench
    machine: gantry-1
    outline: {from: [-50, -50], to: [1450, 850]}
    thickness: 36
    grid: {columns: 15, rows: 9, pitch: [100, 100], hole: 20.02, hole_position: 0.04, depth: 20,
           play: 0.02}
    labels: {skip: ""}
    pose: {x: 60, y: 55, angle: 0}
    surface: -120
    spoil: 0.5
    missing: [H5]
    extra: [{name: R1, at: [250, 150]}]
    tracks: [{name: T1, from: [-50, 50], to: [1450, 50], width: 19, depth: 1}]
    screws: [{name: S1, at: [0, 150], diameter: 9, depth: 5}]
    slats: [{name: L1, from: [-50, 61], to: [1450, 139], surface: -120}]
    solids: [{name: setter, from: [1400, 800], to: [1440, 840], top: 60}]

pins:
  - {name: peg-20, shank: 20.00, body: 20.00, height: 22, body_tolerance: 0.01, in_hole: 20,
     held: loose}

jigs:
  - name: panel-tray
    footprint: [460, 280]
    locate: edges
    seat: 18
    height: 40
    spoil: 0
    solids: [{name: toggle, from: [200, 262], to: [240, 280], top: 55}]
    nests:
      - {name: a, zero: [25, 20], angle: 0, stock: {from: [0, 0], size: [410, 240, 20]}, run_off: 8}
    photo: panel-tray.jpg
    edge_straightness: 0.03
    edge_from: 0

stations:
  - name: left
    bed: long-bench
    jig: panel-tray
    pin: peg-20
    pins: {edge: [D2, G2], stop: C4}
    corner: C2
    toward: +x+y
    turn: 0
    pins_pressed: true
    program_angle: 0
    under: 0
    work_offsets: {a: G55}
    z: {zero: stock-top, set: touch}
    program: hand-hold
    clamps: [{name: c1, from: [215, -50], to: [245, 10], top: 35}]
    note: recess faces the operator
  - {name: right, bed: long-bench, stock: [410, 240, 20], pin: peg-20, corner: J2, toward: +x+y}

programs:
  - name: hand-hold
    file: hand-hold.nc
    units: mm
    tools: {"1": {diameter: 6, stickout: 38}, "2": {diameter: 12.7}}
    cycle: "4:20"

surveys:
  - {name: 2026-11-20, bed: long-bench, readings: [[A1, 60.01, 54.98, -120.02], [C4, 260, 355]],
     fit: {pose: {x: 60.01, y: 54.98, angle: 0.01}, points: 2, s: 0.01, dof: 1,
           centroid: [100, 150], spread: 65000}}
surfacings:
  - {name: 2026-11-22, bed: long-bench, depth: 0.4, slats: [L1]}

disturbances:
  - {name: 2026-11-23, bed: long-bench, note: the board was off}

runs:
  - {name: monday-sides, load: 90 s, reach: 250, parts: 24, stations: [left, right]}

dialects:
  - name: ours
    work_offsets: [G54, G55, G56, G57, G58, G59]
    write: g10-l2
    rotation: none
    expressions: false
    converts: false
    first: [G40, G17, G49, G80, G94, G98]
    harmless: [G91.1, G97]
    cancel: [G92.1]
    comment: parens
    upper_case: false
    line_length: 256
    decimals: {mm: 3, in: 4, deg: 4}
"""
"""A document of every kind with every key that a person may write."""

LEAST = {
    "machine": "machines: [{name: x, dialect: rs274}]",
    "bed": "beds: [{name: x, machine: m, grid: {columns: 3, rows: 2, pitch: [50, 40], hole: 8},"
    " pose: {x: 1, y: 2}, tracks: [{name: t, from: [0, 0], to: [9, 0], width: 8}],"
    " screws: [{name: s, at: [0, 0], diameter: 5}], slats: [{name: l, from: [0, 0], to: [9, 9]}]}]",
    "pin": "pins: [{name: x, shank: 8, body: 9, height: 10}]",
    "jig": "jigs: [{name: x, footprint: [9, 8], seat: 3,"
    " nests: [{name: a, zero: [1, 1], stock: {size: [1, 2, 3]}}]}]",
    "station": "stations: [{name: x, bed: b, jig: j, pin: p, corner: A1, toward: +x+y}]",
    "program": 'programs: [{name: x, file: a/b.nc, tools: {"1": {diameter: 6}}}]',
    "survey": "surveys: [{name: x, bed: b, readings: [[A1, 1, 2]], fit: {pose: {x: 1, y: 2},"
    " points: 1, s: 0, dof: 0, centroid: [0, 0], spread: 0}}]",
    "surfacing": "surfacings: [{name: x, bed: b, depth: 1}]",
    "disturbance": "disturbances: [{name: x, bed: b}]",
    "run": "runs: [{name: x, stations: [s]}]",
    "dialect": "dialects: [{name: x, work_offsets: [G54]}]",
}
"""The least that a document of each kind may say."""
