package fixing

import (
	"math"

	"hangtrue/compute/figure"
)

// A PilotHole is the hole to drill for one fixing, m.
type PilotHole struct {
	// Required tells whether the rules ask for a hole. Drilling one near an edge is
	// common practice even where they do not.
	Required bool
	// Least and Greatest bound the diameter for the thread. Advised is the one to
	// reach for.
	Least, Greatest, Advised float64
	// Depth is how far to drill for the thread, from the face of the lining.
	Depth float64
	// Shank is the diameter of the clearance hole for the unthreaded shank, and
	// ShankDepth how far to drill it, from the face of the lining; both 0 if the
	// shank does not reach into the member.
	Shank, ShankDepth float64
	Source            string
	Mark              figure.Mark
}

// Pilot gives the hole for a fixing of a kind and its dimensions in wood of
// specific gravity G; pull tells that it is loaded in withdrawal, shear that it is
// loaded sideways. length and thread are the fixing's, plate and lining what lies
// before the member, all m.
//
//   - Wood screw in withdrawal (NDS 2018 §12.1.5.2): 90 % of the root diameter for
//     G > 0.6, 70 % for 0.5 < G <= 0.6, none required below. Loaded sideways
//     (§12.1.5.3): root diameter and shank diameter for G > 0.6, 7/8 of both
//     otherwise. Loaded both ways, the range runs from the one to the other.
//   - Lag screw (§12.1.4.2): thread hole 65 to 85 % of D for G > 0.6, 60 to 75 % for
//     0.5 < G <= 0.6, 40 to 70 % below; shank hole D. Not required up to 3/8 in in
//     withdrawal only with G <= 0.5 (§12.1.4.3).
//   - Nail (§12.1.6.2): a hole is allowed up to 90 % of D for G > 0.6, else 75 %.
//   - Metric screw: 70 % of d, from memory, not verified (EN 1995-1-1:2004
//     §10.4.5); required above 6 mm.
func Pilot(kind Kind, d Dimensions, gravity float64, pull, shear bool, length, thread, plate, lining float64) PilotHole {
	hard, middle := gravity > 0.6, gravity > 0.5
	p := PilotHole{Depth: max(0, length-plate), Source: "NDS 2018 §12.1.5", Mark: figure.Published}
	shank := max(0, length-thread-plate-lining)
	if shank > 0 {
		p.ShankDepth = lining + shank
	}
	switch kind {
	case WoodScrew:
		pulled := 0.70
		if hard {
			pulled = 0.90
		}
		sideways, shankPart := 0.875, 0.875
		if hard {
			sideways, shankPart = 1, 1
		}
		p.Required = shear || middle
		switch {
		case shear && pull:
			p.Least, p.Greatest = pulled*d.Root, sideways*d.Root
		case shear:
			p.Least, p.Greatest = sideways*d.Root, sideways*d.Root
		default:
			p.Least, p.Greatest = pulled*d.Root, pulled*d.Root
		}
		p.Advised = p.Least
		p.Shank = shankPart * d.Diameter
	case LagScrew:
		low, high := 0.40, 0.70
		if hard {
			low, high = 0.65, 0.85
		} else if middle {
			low, high = 0.60, 0.75
		}
		p.Least, p.Greatest = low*d.Diameter, high*d.Diameter
		p.Advised = (p.Least + p.Greatest) / 2
		p.Shank = d.Diameter
		p.Required = shear || middle || inches(d.Diameter) > 0.375
		p.Source, p.Mark = "NDS 2018 §12.1.4", figure.Secondary
	case MetricScrew:
		p.Least, p.Greatest, p.Advised = 0.7*d.Diameter, 0.7*d.Diameter, 0.7*d.Diameter
		p.Shank = d.Diameter
		p.Required = math.Round(d.Diameter*1e6) > 6000
		p.Source, p.Mark = "EN 1995-1-1:2004 §10.4.5", figure.Memory
	default:
		p.Greatest = 0.75 * d.Diameter
		if hard {
			p.Greatest = 0.90 * d.Diameter
		}
		p.Advised = p.Greatest
		p.ShankDepth = 0
		p.Source = "NDS 2018 §12.1.6.2"
	}
	if p.ShankDepth == 0 {
		p.Shank = 0
	}
	return p
}
