// Package plan is the plan document: the room as surveyed, the gear, and where each loudspeaker goes.
//
// A document is one JSON object as [Plan] describes it, in the form that package strict reads: the key carries the unit,
// a key ending in `_m` takes metres or what a tape says, one ending in `_deg` takes degrees, every key without omitempty
// is required, and none but the listed ones is known. [Schema] publishes that form as JSON Schema 2020-12, and
// testdata/plans/example.json is a small whole plan, two loudspeakers in a box:
//
//	"room": {"box": {"width_m": 3.6, "length_m": "420 cm", "height_m": 2.4}, …}
//	"listening_positions": [{"name": "chair", "ear_m": [1.8, 2.008, 1.15], "facing_deg": 0, "ear_u_m": "5 mm", "primary": true}]
//	"mounts": [{"channel": "M+030", "loudspeaker": "Front A", "bracket": "Wall bracket", "surface": "front",
//	            "along_m": 0.5808, "up_m": "1.2 m", "fixing": "Stud screw", …}, …]
//
// A box need not stay a box: "shapes" adds slopes, chimney breasts, columns and alcoves by sizes that a tape can read, and
// each makes named surfaces ([Shape]). Their construction, like that of the box's sides, is given by entries of that name
// without a frame; testdata/plans/attic.json has all kinds:
//
//	"shapes": [{"name": "slope", "kind": "slope", "wall": "rear", "knee_m": 1.4, "reach_m": 1.2}, …],
//	"surfaces": [{"name": "slope", "construction": {"kind": "studs", …}}, …]
//
// The optional part "survey" keeps what was read in the room, under names whose meaning is published ([Reading]):
//
//	"survey": {"readings": [{"name": "width front", "values_m": ["3.600 m", 3.601], "instrument": "tape"}, …]}
//
// The optional part "sound" says what is asked of level and bass at the primary listening position; see [Sound]:
//
//	"sound": {"temperature_c": 21, "level_db": 92, "crossover_hz": 80, "slope": "LR4", "bass_boost_db": 4, "boost_corner_hz": 120}
//
// Guarantees: [Decode] gives a plan without problems or all the problems without a plan, and does not panic on any
// input. A decoded plan holds together: every name that is used is there, every channel belongs to the layout and has
// one mount, one output and one amplifier channel of its own, every ear point lies in the room, every hole on its
// surface and off openings and keep-outs, no two shapes or openings run into each other, and every loudspeaker can aim at
// its listening position, if not always within its bracket's limits. What [Plan.Encode] writes of a decoded plan decodes
// to the same plan.
//
// A revision is compared with the one before by [Diff]. What was measured on site comes in a document of its own,
// [Measured].
//
// The package does not judge: whether a direction is permitted, a screw holds, an amplifier suffices or a loudspeaker
// hangs where it should is for the packages under compute and the checks of the checklist. It knows no file, screen,
// network or clock.
package plan
