package table

import (
	"hangtrue/checklist/plan"
	"hangtrue/compute/layout"
)

// partForms are the kinds of part in the order in which a plan is made.
var partForms = []partForm{
	{
		kind: "about", title: "About the plan",
		does: "What the plan is called, the units it is shown in, and the layout of channels it is made for.",
		groups: []group{{inputs: []input{
			{key: "title", label: "Title"},
			{key: "units", label: "Units", kind: choice, options: fixed(option{"metric", "metres and millimetres"}, option{"imperial", "feet and inches"}), usual: "metric", help: "what a tape says is read in either"},
			{key: "layout", label: "Layout", kind: choice, options: layouts, help: "named as in ITU-R BS.2051: upper, middle and lower loudspeakers"},
			{key: "remark", label: "Remark", kind: remark, optional: true},
		}}},
		with: starter,
	},
	{
		kind: "room", title: "Room",
		does: "The inside of the room as a box, between finished surfaces. Slopes, breasts and alcoves are added to it afterwards.",
		groups: []group{{inputs: []input{
			{key: "width_m", label: "Width", kind: length, help: "from the left wall to the right wall, as you face the front"},
			{key: "length_m", label: "Length", kind: length, help: "from the rear wall to the front wall"},
			{key: "height_m", label: "Height", kind: length, help: "from the finished floor to the ceiling, at its highest flat part"},
		}}},
		draw: drawRoom,
	},
	{
		kind: "survey", title: "Tape readings",
		does:   "What the tape said, from wall to wall and corner to corner. It is checked whether the readings close; the room's box stays what you type under Room. Every reading may be given several times, with ; between them.",
		groups: surveyGroups(), keeps: readingRemarks(),
		pack: packSurvey, unpack: unpackSurvey, place: placeReading,
		says: surveySays, draw: drawRoom, with: takeBox,
	},
	{
		kind: "shape", title: "Shape", label: "name",
		does: "What makes the room other than a box: a sloping ceiling, a chimney breast or pier, a column, an alcove. Each makes surfaces of its own, which can carry loudspeakers.",
		groups: []group{
			{inputs: []input{
				{key: "name", label: "Name", help: "such as slope, breast"},
				{key: "kind", label: "Kind", kind: choice, options: plainly(plan.ShapeKinds...)},
				{key: "wall", label: "At the wall", kind: choice, options: plainly("front", "right", "rear", "left")},
			}},
			{title: "A slope", folded: true, inputs: []input{
				{key: "knee_m", label: "Height at the wall", kind: length, optional: true, help: "from the finished floor to where the slope begins"},
				{key: "reach_m", label: "How far it reaches into the room", kind: length, optional: true, help: "from the wall to where the ceiling is flat"},
			}},
			{title: "A breast, column or alcove", folded: true, inputs: []input{
				{key: "along_m", label: "Along", kind: length, optional: true, help: "to its nearer side, from the wall's left corner as you face it"},
				{key: "width_m", label: "Width", kind: length, optional: true},
				{key: "depth_m", label: "Depth", kind: length, optional: true, help: "how far it stands out, or goes in"},
				{key: "height_m", label: "Height", kind: length, optional: true, help: "none for one that goes up to the ceiling"},
				{key: "up_m", label: "Up", kind: length, optional: true, help: "of an alcove, from the finished floor to its lower side"},
				{key: "off_m", label: "Off the wall", kind: length, optional: true, help: "of a column, from the wall to its back"},
			}},
		},
		draw: drawRoom,
	},
	{
		kind: "listening", title: "Listening position", label: "name",
		does: "Where somebody's ears are, and where they face. The primary position is the one every loudspeaker is planned for.",
		groups: []group{{inputs: []input{
			{key: "name", label: "Name", usual: "Main seat"},
			{key: "ear_m/0", label: "Ear point, from the left wall", kind: length, axis: "x", help: "level with the ears, between them"},
			{key: "ear_m/1", label: "Ear point, from the rear wall", kind: length, axis: "y"},
			{key: "ear_m/2", label: "Ear point, above the finished floor", kind: length, help: "measured with somebody sitting there"},
			{key: "facing_deg", label: "Faces", kind: angle, usual: "0", help: "0 straight to the front wall, positive to the left"},
			{key: "ear_u_m", label: "How far it may be off", kind: small, usual: "20", help: "the standard uncertainty of each of the three; 20 mm is an estimate, no source"},
			{key: "primary", label: "This is the primary position", kind: yes, usual: "yes"},
		}}},
		draw: drawSeat, drags: true,
	},
	{
		kind: "surface", title: "Wall, ceiling or floor", label: "name", named: surfaces,
		does: "What is on it and what is behind it: doors, windows, known pipes and cables, studs. Only what matters to a hole.",
		groups: []group{
			{title: "Behind the lining", inputs: []input{
				{key: "construction/kind", label: "Construction", kind: choice, options: plainly(plan.Studs, plan.Masonry, plan.Concrete, plan.Other)},
				{key: "lining_m", label: "Lining", kind: small, optional: true, help: "thickness of board and plaster in front of it"},
			}},
			{title: "Studs, joists or rafters", folded: true, inputs: []input{
				{key: "construction/spacing_m", label: "Spacing", kind: small, optional: true, help: "from centre to centre"},
				{key: "construction/first_m", label: "First one", kind: small, optional: true, help: "its centre, from the datum corner; where they run across, from the datum edge"},
				{key: "construction/width_m", label: "Width of each", kind: small, optional: true, help: "the side that a screw meets"},
				{key: "construction/depth_m", label: "Depth of each", kind: small, optional: true, help: "how far a screw can go in"},
				{key: "construction/across", label: "They run across, along the surface", kind: yes, optional: true, help: "such as joists parallel to the front wall, or the rafters of a slope at a side wall"},
				{key: "construction/species", label: "Wood", optional: true, help: "species or strength class, as the load check needs it"},
				{key: "construction/found_m", label: "Centres found on site", kind: lengths, optional: true, help: "each replaces the regular one nearest to it"},
			}},
			{title: "Doors and windows", rows: &rows{key: "openings", noun: "Opening", spare: 2, inputs: areaInputs}},
			{title: "Pipes and cables that are known", folded: true, rows: &rows{key: "keep_outs", noun: "Keep-out", spare: 2, inputs: areaInputs}},
		},
		draw: drawSurface,
	},
	{
		kind: "instrument", title: "Instrument", label: "name",
		does: "What you measure with. What its readings are worth goes into every verdict. The figures that a new plan begins with are common practice, no source: hold them against what is printed on yours.",
		groups: []group{{inputs: []input{
			{key: "name", label: "Name"},
			{key: "kind", label: "Kind", kind: choice, options: plainly(plan.Tape, plan.Laser, plan.Level, plan.PhoneLevel, plan.Meter)},
			{key: "class", label: "Accuracy class", kind: choice, optional: true, options: plainly("I", "II", "III"), help: "of a tape, printed near its start"},
			{key: "resolution_m", label: "Divisions", kind: small, optional: true, help: "the finest marks, or the last digit shown"},
			{key: "reading_u_m", label: "How well you read it", kind: small, optional: true, help: "standard uncertainty of one reading of a tape"},
			{key: "length_u_m", label: "Uncertainty of a length", kind: small, optional: true, help: "standard uncertainty of a laser"},
			{key: "angle_u_deg", label: "Uncertainty of an angle", kind: angle, optional: true, help: "standard uncertainty of a level"},
			{key: "from_hook", label: "It is read from its hook", kind: yes, optional: true},
		}}},
	},
	{
		kind: "tolerances", title: "Tolerances",
		does: "How far off is still within the plan. No published document gives installation tolerances for loudspeakers at fixed angles: these are the plan's own choice.",
		groups: []group{{inputs: []input{
			{key: "mark_m", label: "Mark of the reference hole", kind: small, help: "along and up, each"},
			{key: "level_deg", label: "Bracket's line", kind: angle},
			{key: "azimuth_deg", label: "Azimuth of the acoustic centre", kind: angle},
			{key: "elevation_deg", label: "Elevation of the acoustic centre", kind: angle},
			{key: "height_m", label: "Height of the acoustic centre", kind: small},
			{key: "distance_m", label: "Distance from the ear point", kind: small},
			{key: "tilt_deg", label: "Tilt of the cabinet", kind: angle},
			{key: "aim_deg", label: "Aim past the ear point", kind: angle},
			{key: "pair_azimuth_deg", label: "Difference of a pair, in azimuth", kind: angle},
			{key: "pair_height_m", label: "Difference of a pair, in height", kind: small},
			{key: "cable_loss_percent", label: "Loss in a cable", kind: number, unit: "% of the rated impedance"},
			{key: "edge_clearance_m", label: "Hole to an opening or edge", kind: small},
		}}},
	},
	{
		kind: "loudspeaker", title: "Loudspeaker", label: "name",
		does: "One type of loudspeaker. Weight, size and electrical figures are its maker's.",
		groups: []group{
			{inputs: []input{
				{key: "name", label: "Name", help: "such as Surround A"},
				{key: "kind", label: "Kind", kind: choice, options: plainly(plan.Loudspeaker, plan.Subwoofer), usual: plan.Loudspeaker},
				{key: "mass_kg", label: "Weight", kind: number, unit: "kg"},
				{key: "size/width_m", label: "Width", kind: small},
				{key: "size/height_m", label: "Height", kind: small},
				{key: "size/depth_m", label: "Depth", kind: small},
				{key: "reach_m", label: "Reach", kind: small, help: "from the bracket's pivot to the acoustic centre, along the axis; for one that stands, 0"},
				{key: "centre_of_mass_out_m", label: "Centre of mass", kind: small, help: "how far out from the pivot; half the depth if the maker gives none, an estimate"},
				{key: "axis_right_m", label: "Axis to the right", kind: small, optional: true, help: "of the middle, seen from behind"},
				{key: "axis_up_m", label: "Axis up", kind: small, optional: true},
			}},
			{title: "Electrical", inputs: []input{
				{key: "active", label: "It has its own amplifier", kind: yes, optional: true},
				{key: "power_w", label: "Power it takes", kind: number, unit: "W", help: "of an active one, its amplifier's"},
				{key: "sensitivity_db", label: "Sensitivity", kind: number, unit: "dB at 1 m for 2.83 V", optional: true, help: "of a passive one"},
				{key: "rated_impedance_ohm", label: "Rated impedance", kind: number, unit: "ohm", optional: true, help: "of a passive one"},
				{key: "least_impedance_ohm", label: "Least impedance", kind: number, unit: "ohm", optional: true, help: "0.8 of the rated one or more, where it keeps to IEC 60268-5: from memory, not verified"},
				{key: "greatest_impedance_ohm", label: "Greatest impedance", kind: number, unit: "ohm", optional: true},
			}},
			{title: "Driver bridges", folded: true, rows: &rows{key: "driver_bridges", noun: "Setting", spare: 2, inputs: []input{
				{key: "setting", label: "Setting", help: "fitted, open, or your own word"},
				{key: "does", label: "What it does"},
				{key: "rated_impedance_ohm", label: "Rated impedance then", kind: number, unit: "ohm"},
				{key: "least_impedance_ohm", label: "Least impedance then", kind: number, unit: "ohm"},
			}}},
		},
	},
	{
		kind: "bracket", title: "Bracket", label: "name",
		does: "One type of bracket. Its holes count from the reference hole, the one that is marked on the wall.",
		groups: []group{
			{inputs: []input{
				{key: "name", label: "Name", help: "such as Wall bracket"},
				{key: "mass_kg", label: "Weight", kind: number, unit: "kg"},
				{key: "rated_load_kg", label: "Rated load", kind: number, unit: "kg", help: "its maker's figure"},
				{key: "pivot_out_m", label: "Pivot out from the wall", kind: small},
				{key: "pivot_along_m", label: "Pivot to the right of the reference hole", kind: small, optional: true},
				{key: "pivot_up_m", label: "Pivot above the reference hole", kind: small, optional: true, help: "negative if it is below"},
				{key: "swing_min_deg", label: "Swings to the left, up to", kind: angle, help: "negative, such as -45"},
				{key: "swing_max_deg", label: "Swings to the right, up to", kind: angle},
				{key: "tilt_min_deg", label: "Tilts down, up to", kind: angle, help: "negative, such as -20"},
				{key: "tilt_max_deg", label: "Tilts up, up to", kind: angle},
				{key: "plate_m", label: "Thickness of its plate", kind: small},
				{key: "lower_edge_m", label: "Lower edge of its plate", kind: small, help: "how far below the reference hole: the edge it tilts about"},
				{key: "side_edge_m", label: "Side edge beyond the outer holes", kind: small, optional: true, help: "matters overhead"},
			}},
			{title: "Holes", rows: &rows{key: "holes_m", noun: "Hole", spare: 4, inputs: []input{
				{key: "0", label: "To the right of the reference hole", kind: small, help: "0 for the reference hole itself"},
				{key: "1", label: "Above the reference hole", kind: small, help: "negative if it is below"},
			}}},
		},
	},
	{
		kind: "fixing", title: "Fixing", label: "name",
		does: "What goes through each hole. A load check is a screening aid, never an approval.",
		groups: []group{
			{inputs: []input{
				{key: "name", label: "Name"},
				{key: "kind", label: "Kind", kind: choice, options: plainly(plan.FixingKinds...)},
				{key: "size", label: "Size", optional: true, help: `such as No. 10, 1/4 in, 10d, 6 mm; none for a rated one`},
				{key: "length_m", label: "Length", kind: small},
				{key: "pilot_m", label: "Pilot hole", kind: small, optional: true, help: "diameter"},
			}},
			{title: "Rated by its maker", folded: true, inputs: []input{
				{key: "rated_load_n", label: "Rated load", kind: number, unit: "N", optional: true, help: "tension"},
				{key: "factor", label: "Factor on it", kind: number, optional: true, help: "where the figure is a tested failure load"},
				{key: "base", label: "Rated in", kind: choice, optional: true, options: plainly(plan.Masonry, plan.Concrete, plan.HollowWall)},
				{key: "declared_withdrawal_n_mm2", label: "Declared withdrawal strength", kind: number, unit: "N/mm²", optional: true, help: "of a metric screw"},
				{key: "declared_density_kg_m3", label: "at a density of", kind: number, unit: "kg/m³", optional: true},
				{key: "declared_core_m", label: "Declared core diameter", kind: small, optional: true},
				{key: "declared_yield_moment_n_mm", label: "Declared yield moment", kind: number, unit: "N·mm", optional: true},
			}},
		},
	},
	{
		kind: "cable", title: "Cable", label: "name",
		does: "One type of loudspeaker or signal cable.",
		groups: []group{{inputs: []input{
			{key: "name", label: "Name"},
			{key: "conductor", label: "Conductor", help: `such as 14 AWG, or 2.5 mm2 class 5`},
			{key: "in_wall_marking", label: "Marking for use in walls", optional: true, help: "as printed on it; what it has to be is for local code"},
		}}},
	},
	{
		kind: "processor", title: "Processor",
		does: "What makes the channels. Its outputs are numbered from 1.",
		groups: []group{{inputs: []input{
			{key: "name", label: "Name", usual: "Processor"},
			{key: "outputs", label: "Outputs", kind: whole},
			{key: "rack_units", label: "Rack units", kind: whole, optional: true, help: "none if it does not stand in the rack"},
			{key: "rack_position", label: "Lowest rack unit it takes", kind: whole, optional: true, help: "counted from the bottom"},
			{key: "mass_kg", label: "Weight", kind: number, unit: "kg", optional: true},
			{key: "heat_w", label: "Heat", kind: number, unit: "W", optional: true},
			{key: "mains_w", label: "Mains power", kind: number, unit: "W", optional: true},
		}}},
	},
	{
		kind: "amplifier", title: "Amplifier", label: "name",
		does: "Its channels are numbered from 1. An active loudspeaker needs none.",
		groups: []group{{inputs: []input{
			{key: "name", label: "Name"},
			{key: "channels", label: "Channels", kind: whole},
			{key: "power_w", label: "Power of a channel", kind: number, unit: "W"},
			{key: "least_load_ohm", label: "Least load", kind: number, unit: "ohm", help: "the lowest impedance its maker allows"},
			{key: "rack_units", label: "Rack units", kind: whole},
			{key: "rack_position", label: "Lowest rack unit it takes", kind: whole, help: "counted from the bottom"},
			{key: "mass_kg", label: "Weight", kind: number, unit: "kg"},
			{key: "damping_factor", label: "Damping factor", kind: number, optional: true},
			{key: "heat_w", label: "Heat", kind: number, unit: "W", optional: true, help: "at the duty its maker states"},
			{key: "mains_w", label: "Mains power", kind: number, unit: "W", optional: true},
			{key: "efficiency", label: "Efficiency", kind: number, optional: true, help: "from 0 to 1, used where heat and mains power are missing"},
		}}},
	},
	{
		kind: "rack", title: "Rack",
		does: "Where amplifiers and processor stand, and what feeds them. Mains is for licensed people.",
		groups: []group{
			{inputs: []input{
				{key: "units", label: "Height", kind: whole, unit: "rack units"},
				{key: "place_m/0", label: "Where its cables leave, from the left wall", kind: length},
				{key: "place_m/1", label: "Where its cables leave, from the rear wall", kind: length},
				{key: "place_m/2", label: "Where its cables leave, above the finished floor", kind: length},
				{key: "circuit_a", label: "Circuit", kind: number, unit: "A"},
				{key: "voltage_v", label: "Voltage", kind: number, unit: "V"},
				{key: "rated_load_kg", label: "Rated load", kind: number, unit: "kg", optional: true},
			}},
			{title: "Air", folded: true, inputs: []input{
				{key: "continuous_load_rule", label: "The rule for continuous loads applies here (80 % of the circuit)", kind: yes, optional: true},
				{key: "inlet_c", label: "Air at the inlet", kind: number, unit: "°C", optional: true},
				{key: "rise_k", label: "Rise that is allowed", kind: number, unit: "K", optional: true},
				{key: "airflow_m3_h", label: "Airflow", kind: number, unit: "m³/h", optional: true},
			}},
		},
	},
	{
		kind: "sound", title: "Sound",
		does: "What the plan asks of level and bass. What is left out is not asked.",
		groups: []group{{inputs: []input{
			{key: "temperature_c", label: "Temperature of the room", kind: number, unit: "°C", optional: true},
			{key: "level_db", label: "Peak level wanted", kind: number, unit: "dB", optional: true, help: "at the primary position, from each loudspeaker"},
			{key: "crossover_hz", label: "Crossover to the subwoofers", kind: number, unit: "Hz", optional: true},
			{key: "slope", label: "Slope", kind: choice, optional: true, options: plainly("BW2", "LR2", "LR4")},
			{key: "bass_boost_db", label: "Bass boost", kind: number, unit: "dB", optional: true, help: "negative for a cut"},
			{key: "boost_corner_hz", label: "below", kind: number, unit: "Hz", optional: true},
		}}},
	},
	{
		kind: "mount", title: "Mount", label: "channel", named: channels,
		does: "One channel's loudspeaker: what it is, where its bracket's reference hole goes, and what feeds it.",
		groups: []group{
			{title: "Where", inputs: []input{
				{key: "channel", label: "Channel"},
				{key: "surface", label: "On", kind: choice, options: surfaces},
				{key: "along_m", label: "Along", kind: length, axis: "along", help: "from the surface's datum corner"},
				{key: "up_m", label: "Up, or out on a ceiling or slope", kind: length, axis: "up", help: "from the surface's datum edge"},
				{key: "stand_m", label: "Height of the acoustic centre over its spot", kind: length, optional: true, help: "of one that stands without a bracket"},
				{key: "aim_at", label: "Aimed at", kind: choice, optional: true, options: parts("listening"), help: "the primary position if none"},
				{key: "off_angle_reason", label: "Why it is off its permitted angle", kind: remark, optional: true},
			}},
			{title: "What", inputs: []input{
				{key: "loudspeaker", label: "Loudspeaker", kind: choice, options: parts("loudspeaker")},
				{key: "bracket", label: "Bracket", kind: choice, optional: true, options: parts("bracket")},
				{key: "fixing", label: "Fixing", kind: choice, optional: true, options: parts("fixing")},
				{key: "driver_bridge", label: "Driver bridges", kind: choice, optional: true, options: settings},
			}},
			{title: "Feed", inputs: []input{
				{key: "cable", label: "Cable", kind: choice, options: parts("cable")},
				{key: "route_m", label: "Length of its route", kind: length, help: "one way, from the rack to the loudspeaker"},
				{key: "output", label: "Output of the processor", kind: whole},
				{key: "amplifier", label: "Amplifier", kind: choice, optional: true, options: parts("amplifier")},
				{key: "amplifier_channel", label: "Its channel", kind: whole, optional: true},
			}},
		},
		draw:  drawMount,
		says:  mountSays,
		drags: true, moved: movedMount,
	},
}

var areaInputs = []input{
	{key: "name", label: "Name", help: "such as door, window, heating pipe"},
	{key: "along_m", label: "Along", kind: length, help: "to its nearer side, from the left corner as you face it"},
	{key: "up_m", label: "Up", kind: length, help: "to its lower side; 0 for a door"},
	{key: "width_m", label: "Width", kind: length},
	{key: "height_m", label: "Height", kind: length},
	{key: "clearance_m", label: "Keep clear around it", kind: small, optional: true},
}

func layouts(*plan.Plan) []option {
	var options []option
	for _, l := range layout.All() {
		options = append(options, option{l.Name, l.Name})
	}
	return options
}

// surfaces are those of the room as far as it is surveyed.
func surfaces(p *plan.Plan) []option {
	all, err := p.Surfaces()
	if err != nil {
		return nil
	}
	options := make([]option, len(all))
	for i, s := range all {
		options[i] = option{s.Name, s.Name}
	}
	return options
}

// channels are the channels of the layout.
func channels(p *plan.Plan) []option {
	l := p.Loudspeakers()
	if l == nil {
		return nil
	}
	options := make([]option, len(l.Loudspeakers))
	for i, s := range l.Loudspeakers {
		options[i] = option{s.Label, s.Label}
	}
	return options
}

// settings are the driver bridges that any loudspeaker of the plan has.
func settings(p *plan.Plan) []option {
	var options []option
	seen := map[string]bool{}
	for _, m := range p.Models {
		for _, b := range m.Bridges {
			if !seen[b.Setting] {
				seen[b.Setting] = true
				options = append(options, option{b.Setting, b.Setting})
			}
		}
	}
	return options
}
