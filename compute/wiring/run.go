package wiring

import (
	"hangtrue/compute/figure"
)

// Run is one loudspeaker cable.
type Run struct {
	Conductor  Conductor
	Length     float64 // metres, one way
	Connectors float64 // ohms, if measured: what the connectors add to the loop
	Above20    float64 // kelvin the copper is warmer than 20 °C; 0 is the usual assumption
}

// Loop is the run's resistance there and back in ohms: 2·L·R' and the connectors.
func (r Run) Loop() (float64, error) {
	perMetre, err := r.Conductor.Resistance(20 + r.Above20)
	if err != nil {
		return 0, err
	}
	cable, err := LoopResistance(r.Length, perMetre)
	if err == nil {
		err = checkResistance("connectors", r.Connectors)
	}
	if err != nil {
		return 0, err
	}
	return cable + r.Connectors, nil
}

// Assessment is all that a run means for the loudspeaker and the amplifier at its ends.
type Assessment struct {
	Load        Load    // the driver groups together
	Loop        float64 // ohms
	Fraction    float64 // Loop over the rated impedance
	WithinLimit bool
	Loss        float64 // dB
	LongestRun  float64 // metres, one way, at the limit; connectors not counted
	// Damping is the damping factor at the loudspeaker, of the cable alone where the amplifier's is not known.
	Damping float64
	// Deviation is by how many dB the response may follow the impedance curve. It is the bound for any load where the
	// greatest impedance is not known.
	Deviation float64
	// Carries tells whether the amplifier may drive the load; it means nothing unless LeastLoadKnown.
	Carries, LeastLoadKnown bool
	// Figures are these numbers with formula, inputs and source, in this order: resistance of one core, rated impedance
	// (if several groups are joined), loop, fraction, loss, longest run, damping factor, deviation, load on the amplifier
	// (if known).
	Figures []figure.Figure
}

// Assess works out a run that feeds driver groups joined in parallel (one group: a loudspeaker without links, or with
// them open) from an amplifier, held to a limit for the loop resistance as a fraction of the rated impedance (see
// [DefaultLimit]). Links change the load, so every number is worked out anew for them.
func Assess(run Run, source Source, limit float64, groups ...Load) (Assessment, error) {
	load, err := Combine(groups...)
	if err != nil {
		return Assessment{}, err
	}
	core, err := run.Conductor.Figure(20 + run.Above20)
	if err != nil {
		return Assessment{}, err
	}
	a := Assessment{Load: load}
	if a.Loop, err = run.Loop(); err != nil {
		return Assessment{}, err
	}
	if a.LongestRun, err = LongestRun(limit, load.Rated, core.Value); err != nil {
		return Assessment{}, err
	}
	if a.Carries, a.LeastLoadKnown, err = source.Carries(load.Rated); err != nil {
		return Assessment{}, err
	}
	a.Fraction = a.Loop / load.Rated
	a.WithinLimit = Within(a.Fraction, limit)
	a.Loss = insertionLoss(a.Loop, load.Rated)
	a.Figures = append(a.Figures, core)
	if len(groups) > 1 {
		joined, err := CombineFigure(groups...)
		if err != nil {
			return Assessment{}, err
		}
		a.Figures = append(a.Figures, joined)
	}
	a.Figures = a.cableFigures(run, core, limit)
	a.addResponse(source, core.Mark)
	if a.LeastLoadKnown {
		a.Figures = append(a.Figures, loadFigure(source, load.Rated))
	}
	return a, nil
}

func ohms(name string, v float64) figure.Input {
	return figure.Input{Name: name, Value: v, Unit: "ohm"}
}

func (a *Assessment) cableFigures(run Run, core figure.Figure, limit float64) []figure.Figure {
	derived := figure.Weakest(figure.Derived, core.Mark)
	perMetre := figure.Input{Name: "R'", Value: core.Value, Unit: "ohm/m"}
	return append(a.Figures,
		figure.Figure{
			Name: "loop resistance", Formula: "2·L·R' + R_c", Source: "there and back; " + core.Source, Mark: derived,
			Inputs: []figure.Input{{Name: "L", Value: run.Length, Unit: "m"}, perMetre, ohms("R_c", run.Connectors)},
			Value:  a.Loop, Unit: "ohm",
		},
		figure.Figure{
			Name: "loop resistance as a part of the rated impedance", Formula: "R/Z",
			Source: "the limit held against it is common practice, no source", Mark: figure.Weakest(figure.CommonPractice, derived),
			Inputs: []figure.Input{ohms("R", a.Loop), ohms("Z", a.Load.Rated), {Name: "limit", Value: limit}},
			Value:  a.Fraction,
		},
		figure.Figure{
			Name: "cable loss", Formula: "20·log10((Z + R)/Z)", Source: "voltage divider", Mark: derived,
			Inputs: []figure.Input{ohms("R", a.Loop), ohms("Z", a.Load.Rated)}, Value: a.Loss, Unit: "dB",
		},
		figure.Figure{
			Name: "longest run", Formula: "limit·Z/(2·R')", Source: "the limit is common practice, no source",
			Mark:   figure.Weakest(figure.CommonPractice, derived),
			Inputs: []figure.Input{{Name: "limit", Value: limit}, ohms("Z", a.Load.Rated), perMetre}, Value: a.LongestRun, Unit: "m",
		},
	)
}

// addResponse fills in damping and deviation. The source was checked before.
func (a *Assessment) addResponse(source Source, mark figure.Mark) {
	amplifier, of := 0.0, "cable alone; the amplifier's damping factor is not known"
	if source.Damping != 0 {
		reference := source.Reference
		if reference == 0 {
			reference = 8
		}
		amplifier, of = reference/source.Damping, "amplifier and cable; R_a = reference load over the amplifier's damping factor"
	}
	if source.Bridged {
		amplifier *= 2 // the two outputs are in series
	}
	total := a.Loop + amplifier
	if total < 1e-9 {
		total = 1e-9 // nothing real is shorter; it keeps the factor finite
	}
	a.Damping = a.Load.Rated / total
	least, assumed := a.Load.least()
	a.Deviation = insertionLoss(total, least)
	deviation := figure.Figure{
		Name: "response deviation, at most", Formula: "20·log10((Zmin + R)/Zmin)",
		Source: "bound for any load: the greatest impedance is not known", Mark: figure.Weakest(figure.Derived, mark),
		Inputs: []figure.Input{ohms("Zmin", least), ohms("R", total)}, Unit: "dB",
	}
	if a.Load.Greatest != 0 && a.Load.Greatest >= least {
		a.Deviation -= insertionLoss(total, a.Load.Greatest)
		deviation.Name, deviation.Source = "response deviation", "estimate for resistive loads"
		deviation.Formula += " - 20·log10((Zmax + R)/Zmax)"
		deviation.Inputs = append(deviation.Inputs, ohms("Zmax", a.Load.Greatest))
	}
	if assumed {
		deviation.Mark = figure.Memory
		deviation.Source += "; Zmin taken as 0.8 of the rated impedance, IEC 60268-5, from memory, not verified"
	}
	deviation.Value = a.Deviation
	a.Figures = append(a.Figures,
		figure.Figure{
			Name: "damping factor at the loudspeaker", Formula: "Z/(R_a + R)", Source: of, Mark: figure.Weakest(figure.Derived, mark),
			Inputs: []figure.Input{ohms("Z", a.Load.Rated), ohms("R_a", amplifier), ohms("R", a.Loop)}, Value: a.Damping,
		},
		deviation,
	)
}

func loadFigure(source Source, rated float64) figure.Figure {
	f := figure.Figure{
		Name: "load on the amplifier channel", Formula: "Z, at least Z_amp", Source: "the amplifier maker's least load", Mark: figure.Derived,
		Inputs: []figure.Input{ohms("Z", rated), ohms("Z_amp", source.LeastLoad)}, Value: rated, Unit: "ohm",
	}
	if source.Bridged {
		f.Formula, f.Value = "Z/2, at least Z_amp", rated/2
		f.Source, f.Mark = "each half of a bridged pair sees half the load; the amplifier maker's least load", figure.Secondary
	}
	return f
}
