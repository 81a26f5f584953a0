package judge_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/compute/gauge"
)

// metric is the demo with M+090 on metric screws in C24 timber of a width.
func metric(t *testing.T, width float64, f plan.Fixing) *plan.Plan {
	p := demo(t)
	p.Fixings = append(p.Fixings, f)
	p.MountByChannel("M+090").Fixing = f.Name
	for i := range p.Room.Surfaces {
		if s := &p.Room.Surfaces[i]; s.Name == "left" {
			s.Construction.Species, s.Construction.Width = "C24", width
		}
	}
	data, err := p.Encode()
	require.NoError(t, err)
	decoded, err := plan.Decode(data)
	require.NoError(t, err)
	return decoded
}

// A 38 mm stud cannot keep the edge distance 4d of a 6 mm screw: that takes 48 mm
// (EN 1995-1-1:2004 Table 8.6; the consequence is worked out here). In a backing as
// wide as that the same screw passes by Eurocode 5.
func TestStudsLoad_MetricScrew(t *testing.T) {
	screw := plan.Fixing{Name: "Metric 6", Kind: plan.MetricScrew, Size: "6 mm", Length: 0.08, Pilot: 0.004}
	verdict := func(p *plan.Plan) judge.Check {
		for _, c := range judge.WholePlan(p) {
			if c.Name == "studs.load" && c.Subject == "M+090" {
				sound(t, c)
				return c
			}
		}
		t.Fatal("no load was judged")
		return judge.Check{}
	}
	narrow := verdict(metric(t, 0.038, screw))
	assert.Equal(t, gauge.Outside, narrow.Verdict)
	assert.Contains(t, narrow.Says, "edge")
	wide := verdict(metric(t, 0.06, screw))
	assert.Equal(t, gauge.Within, wide.Verdict, wide.Says)
	found := false
	for _, f := range wide.Figures {
		// f_ax,k = 0.52·6^-0.5·lef^-0.1·350^0.8 lies near 15 N/mm² for lef about 48 mm (Eq. 8.39).
		if f.Unit == "Pa" && f.Value > 15e6 && f.Value < 16e6 {
			found = true
			assert.Contains(t, f.Source, "EN 1995-1-1")
		}
	}
	assert.True(t, found, "the strength can be followed: %+v", wide.Figures)

	thin := plan.Fixing{Name: "Metric 5", Kind: plan.MetricScrew, Size: "5 mm", Length: 0.07, Pilot: 0.003}
	undeclared := verdict(metric(t, 0.06, thin))
	assert.NotEqual(t, gauge.Within, undeclared.Verdict, "below 6 mm only the maker's declared value can serve")
	thin.DeclaredWithdrawal, thin.DeclaredDensity, thin.DeclaredCore, thin.DeclaredYield = 12, 350, 0.0033, 6000
	declared := verdict(metric(t, 0.06, thin))
	assert.Equal(t, gauge.Within, declared.Verdict, declared.Says)
}
