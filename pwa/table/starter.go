package table

import (
	"hangtrue/checklist/plan"
)

// starter is what a new plan has before anybody types it: tolerances, which are a
// choice anyway, and the instruments that most people hold. Their uncertainties are
// common practice or a maker's usual statement, no source: the page of each asks to
// check them.
func starter(t Table, p *plan.Plan) []plan.Part {
	var parts []plan.Part
	add := func(kind, value string) {
		part, err := plan.MakePart(kind, []byte(value))
		if err == nil && t.State.Part(part.Name) == "" {
			parts = append(parts, part)
		}
	}
	add("tolerances", `{"mark_m": 0.005, "level_deg": 0.5, "azimuth_deg": 2, "elevation_deg": 2, "height_m": 0.01, "distance_m": 0.03,
		"tilt_deg": 1.5, "aim_deg": 3, "pair_azimuth_deg": 1.5, "pair_height_m": 0.01, "cable_loss_percent": 5, "edge_clearance_m": 0.05}`)
	if len(p.Instruments) == 0 {
		add("instrument", `{"name": "tape", "kind": "tape", "class": "II", "reading_u_m": 0.0005, "resolution_m": 0.001, "from_hook": true}`)
		add("instrument", `{"name": "laser", "kind": "laser", "resolution_m": 0.001, "length_u_m": 0.001}`)
		add("instrument", `{"name": "level", "kind": "level", "angle_u_deg": 0.03}`)
	}
	return parts
}
